//! All texts of the advisories.

use super::gear::{self, Room};
use super::shape::{Action, Kind};
use crate::decode::Line;
use crate::forecast::{
    ClearanceAhead, Forecast, Lack, LoadAhead, LoadPart, Trouble, TurnAhead, TurnLimit, TurnSource,
};
use crate::vessel::LinesOut;

/// Said with every correction of a line.
pub(super) const HANDS: &str = "mate: line under load cuts: gloves on, never wrap line round a hand, stand clear of loops of line";

/// Instead of a request that would turn the last one round.
pub(super) const LOOK_FIRST: &str = "stop the line and look: say what the bait does";

/// Said when the crew has moved what was asked, until the trouble is over.
pub(super) const DONE: &str = "done; watch the bait";

/// Said while no plan asks for anything.
pub(super) const WATCH: &str = "watch the bait and say what it does";

/// Why an order for a line asks for another amount.
pub(super) const AFTER_REPORT: &str = "after your report";
pub(super) const TURN_CHANGED: &str = "the turn has changed";
pub(super) const FORECAST_CHANGED: &str = "the forecast has changed";

/// Said when nothing is foreseen.
pub(super) const BY_EYE: &str = "watch kite and bait, steer and trim by eye";

/// What cures a lack; `None` where another advisory tells of it, or where the crew wants it so.
pub(super) fn cure(lack: Lack) -> Option<&'static str> {
    match lack {
        Lack::Reading => Some("check wind sensor, compass, log and the network"),
        Lack::Rig => Some("enter kite, lines and bait on the rig page"),
        Lack::ShortLine => Some("count the line that is out and enter it"),
        Lack::Balance => Some("check the line out, the kite that is set, and the wind sensor"),
        Lack::Beginning
        | Lack::Sensor
        | Lack::LineOut
        | Lack::Stopped
        | Lack::Bite
        | Lack::Launch
        | Lack::Time => None,
    }
}

/// Headline of what nobody watches any more.
pub(super) fn unwatched_title(title: &str) -> String {
    format!("{title}: not watched")
}

/// Cause of what nobody watches any more; since when is told beside it, in the reader's own time.
pub(super) fn unwatched_cause(cause: &str, why: &str) -> String {
    format!("{cause}; not watched any more: {why}")
}

/// Headline. What nobody has seen is called probable; `sure`: the chance is one that raises it.
pub(super) fn title(kind: Kind, now: bool, seen: bool, sure: bool) -> &'static str {
    match (kind, now) {
        (Kind::BaitAirborne, true) if !seen && !sure => "Bait may be flying",
        (Kind::BaitDragging, true) if !seen && !sure => "Bait may be dragging",
        (Kind::KiteSinking, true) if !seen && !sure => "Kite may be sinking",
        (Kind::OffCorner, true) if !sure => "Kite may be out of the bite zone",
        (Kind::LineInWater, true) if !sure => "Line may touch the water",
        (Kind::BaitAirborne, false) if !sure => "Bait may fly",
        (Kind::BaitDragging, false) if !sure => "Bait may drag",
        (Kind::KiteSinking, false) if !sure => "Kite may sink",
        (Kind::OffCorner, false) if !sure => "Kite may leave the bite zone",
        (Kind::LineInWater, false) if !sure => "Line may touch the water",
        (Kind::BaitAirborne, true) if !seen => "Bait probably flying",
        (Kind::BaitDragging, true) if !seen => "Bait probably dragging",
        (Kind::KiteSinking, true) if !seen => "Kite probably sinking",
        (Kind::BaitAirborne, false) => "Bait will fly",
        (Kind::BaitAirborne, true) => "Bait is flying",
        (Kind::BaitDragging, false) => "Bait will drag",
        (Kind::BaitDragging, true) => "Bait is dragging",
        (Kind::KiteSinking, false) => "Kite will sink",
        (Kind::KiteSinking, true) => "Kite is sinking",
        (Kind::LineOverload, false) => "Load may come near strength",
        (Kind::LineOverload, true) => "Load near strength",
        (Kind::FalseRelease, false) => "Band may let go",
        (Kind::FalseRelease, true) => "Band near its strength",
        (Kind::LineFoul, false) => "Line may foul the boat",
        (Kind::LineFoul, true) => "Line close to the boat",
        (Kind::OffCorner, false) => "Kite will leave the bite zone",
        (Kind::OffCorner, true) => "Kite is out of the bite zone",
        (Kind::WindShift, _) => "Wind has shifted",
        (Kind::LineInWater, false) => "Line will touch the water",
        (Kind::LineInWater, true) => "Line touches the water",
        (Kind::DataLost, _) => "Instruments silent",
        (Kind::InstrumentsDisagree, _) => "Instruments disagree",
        (Kind::RigUnset, _) => "Line out not known",
        (Kind::ComputerSlow, _) => "Computer too slow",
        (Kind::NoForecast, _) => "No forecast",
        (Kind::LinesUnchecked, _) => "Check the lines",
    }
}

/// What a cause does: "turn to port in 12 s" lifts the bait.
pub(super) fn does(trouble: Trouble) -> &'static str {
    match trouble {
        Trouble::BaitAirborne => "lifts the bait",
        Trouble::BaitDragging => "puts the bait under",
        Trouble::KiteSinking => "lets the kite sink",
        Trouble::OffCorner => "takes the kite out of the bite zone",
        Trouble::LineInWater => "lays line on the water",
        Trouble::LineOverload => "loads the gear",
        Trouble::FalseRelease => "loads the band",
        Trouble::LineFoul => "brings the line to the boat",
    }
}

/// "turn of 45° to port lifts the bait (announced)".
pub(super) fn turn_cause(trouble: Trouble, turn: &TurnAhead, in_s: f64) -> String {
    let side = side(turn.by_deg);
    let when = if in_s >= 1.0 {
        format!("turn of {:.0}° to {side}", turn.by_deg.abs())
    } else if turn.source == TurnSource::UnderWay {
        return format!("turning to {side}, end unknown: {}", does(trouble));
    } else {
        format!("the turn to {side} under way")
    };
    let known = match turn.source {
        TurnSource::Crew => "announced",
        TurnSource::Autopilot => "from the autopilot",
        TurnSource::Route => "from the route",
        TurnSource::UnderWay => "seen from the heading",
    };
    format!("{when} {} ({known})", does(trouble))
}

/// "wind has shifted 12° clockwise and lifts the bait".
pub(super) fn shift_cause(does: &str, shift_deg: f64) -> String {
    let way = if shift_deg > 0.0 {
        "clockwise"
    } else {
        "counter-clockwise"
    };
    format!("wind has shifted {:.0}° {way} and {does}", shift_deg.abs())
}

/// The turn is over and its trouble is not.
pub(super) fn after_cause(trouble: Trouble) -> String {
    format!("the turn just made {}", does(trouble))
}

/// Neither turn nor shift.
pub(super) fn air_cause(trouble: Trouble) -> String {
    let does = match trouble {
        Trouble::BaitAirborne => "lift the bait",
        Trouble::BaitDragging => "put the bait under",
        Trouble::KiteSinking => "let the kite sink",
        Trouble::OffCorner => "take the kite out of the bite zone",
        Trouble::LineInWater => "lay line on the water",
        Trouble::LineOverload => "load the gear",
        Trouble::FalseRelease => "load the band",
        Trouble::LineFoul => "bring the line to the boat",
    };
    format!("wind and gusts {does}; no turn")
}

/// The action when there is no plan.
pub(super) fn bare_action(trouble: Trouble) -> Action {
    let bit_by_bit = |way: f64, until: &str| Action::StepLine {
        line: Line::Main,
        least_m: way * BIT_M.0,
        most_m: way * BIT_M.1,
        until: until.to_owned(),
    };
    Action::see(match trouble {
        Trouble::BaitAirborne => return bit_by_bit(1.0, "the bait touches"),
        Trouble::BaitDragging => return bit_by_bit(-1.0, "the bait skips"),
        Trouble::KiteSinking => "wind in kite line to keep the kite up; be ready to bring it in",
        Trouble::OffCorner => {
            "helm: come back toward the old heading, or fish on with the kite off the corner"
        }
        Trouble::LineInWater => "wind in main line until it is clear of the water",
        Trouble::LineOverload | Trouble::FalseRelease => "helm: slow down or bear away",
        Trouble::LineFoul => "keep the line clear",
    })
}

/// Line moved at a time by eye, the least and the most; common practice, no source.
const BIT_M: (f64, f64) = (3.0, 5.0);

/// The crew sees the trouble: without an order of a plan, the rule of thumb comes first.
pub(super) fn by_eye(trouble: Trouble, actions: &mut Vec<Action>) {
    if actions
        .iter()
        .any(|action| matches!(action, Action::MoveLine { .. }))
    {
        return;
    }
    actions.retain(|action| !matches!(action, Action::See { what } if what == WATCH));
    actions.insert(0, bare_action(trouble));
    actions.push(Action::see(HANDS));
}

/// What the helm can do when no rate works to that side.
pub(super) fn turn_in_steps(limit: &TurnLimit) -> String {
    format!("helm: {}", limit.why)
}

/// How it would be without action; `None` where the forecast lacks the data.
pub(super) fn without_action(trouble: Trouble, forecast: &Forecast) -> Option<String> {
    Some(match trouble {
        Trouble::BaitAirborne => "bait out of the water".to_owned(),
        Trouble::BaitDragging => "bait under, line may follow it in".to_owned(),
        Trouble::KiteSinking => "kite may come down on the water".to_owned(),
        Trouble::OffCorner => "kite stands out of the bite zone".to_owned(),
        Trouble::LineInWater => "line in the water".to_owned(),
        Trouble::LineOverload => without_ease(gear::heaviest(forecast)?.part).to_owned(),
        Trouble::FalseRelease => without_ease(gear::band(forecast)?.part).to_owned(),
        Trouble::LineFoul => without_room(gear::nearest(forecast)?),
    })
}

/// What an untended shift does.
pub(super) fn without_shift(change_m: f64) -> &'static str {
    if change_m > 0.0 {
        "the bait comes up"
    } else {
        "the bait goes under"
    }
}

/// Cause of what was foreseen and is seen by the crew.
pub(super) fn seen_cause(cause: &str) -> String {
    format!("seen by the crew; {cause}")
}

/// Said with every overload.
pub(super) const UNDER_LOAD: &str =
    "stand clear of line, clip and rod: what breaks flies back; safety lanyard on the kite rod";

/// What takes load off the band.
pub(super) const EASE_BAND: [&str; 2] = [
    "mate: ease the drag of the main line and jerk nothing; a stronger band only with the bait in, \
     and never stronger than the kite line",
    "helm: slow down while it gusts",
];

/// Said with every line that comes to the boat.
pub(super) const OFF_THE_STRUCTURE: [&str; 2] = [
    "mate: keep clear; never reach for a line under load or climb to free it",
    "mate: if it catches, stop and wind the kite in (local rules and the skipper come first)",
];

/// A part as it stands in a sentence.
pub(super) fn part(part: LoadPart) -> &'static str {
    match part {
        LoadPart::KiteLine => "the kite line",
        LoadPart::MainLine => "the main line",
        LoadPart::Band => "the band",
        LoadPart::RodHolder => "the holder of the kite rod",
    }
}

/// ": the kite line". How much, the forecast tells.
pub(super) fn load(ahead: &LoadAhead) -> String {
    format!(": {}", part(ahead.part))
}

/// Possible consequence of an overload.
fn without_ease(part: LoadPart) -> &'static str {
    match part {
        LoadPart::KiteLine => "the kite line may part at a knot, and the kite is lost",
        LoadPart::MainLine => "the main line may part at a knot, and bait and marker are lost",
        LoadPart::Band => "the band may let go without a bite, and the bait drops",
        LoadPart::RodHolder => "the holder may give, and rod and kite go overboard",
    }
}

/// What the helm and the mate do against an overload.
pub(super) fn ease(part: LoadPart, turn: Option<&TurnAhead>) -> [&'static str; 2] {
    let helm = if turn.is_some() {
        "helm: put the turn off, or slow down before it"
    } else {
        "helm: slow down or bear away"
    };
    let mate = match part {
        LoadPart::MainLine => "mate: ease the drag of the main line",
        LoadPart::KiteLine | LoadPart::RodHolder | LoadPart::Band => {
            "mate: be ready to wind the kite in while the load allows; a smaller kite suits this wind"
        }
    };
    [helm, mate]
}

/// "kite line and main line", whichever is known.
pub(super) fn lines_out(lines: &LinesOut) -> String {
    let of = |m: Option<f64>, name| m.map(|_| line(name));
    [of(lines.kite_m, Line::Kite), of(lines.main_m, Line::Main)]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" and ")
}

fn line(line: Line) -> &'static str {
    match line {
        Line::Kite => "kite line",
        Line::Main => "main line",
    }
}

/// ": main line, near the port outrigger". How near, the forecast tells.
pub(super) fn near(ahead: &ClearanceAhead) -> String {
    format!(": {} near {}", line(ahead.line), ahead.structure)
}

/// Possible consequence of a fouled line.
fn without_room(ahead: &ClearanceAhead) -> String {
    format!("the {} may catch on {}", line(ahead.line), ahead.structure)
}

/// A turn further than this is nobody's next move.
const FAR_DEG: f64 = 90.0;

fn side(turn_deg: f64) -> &'static str {
    if turn_deg < 0.0 { "port" } else { "starboard" }
}

/// Which side to turn to so that the lines stand clear.
pub(super) fn keep_clear(room: Room, near: &ClearanceAhead, turn: Option<&TurnAhead>) -> String {
    let name = &near.structure;
    match room {
        Room::There { turn_deg } => format!(
            "helm: turn to {}, by {:.0}° at least: there the lines settle clear of {name}",
            side(turn_deg),
            turn_deg.abs()
        ),
        Room::Here {
            port_deg,
            starboard_deg,
        } => {
            let limit = |to_port: bool| if to_port { port_deg } else { starboard_deg };
            // The turn that is coming leads to the structure, or else the nearer limit matters.
            let to_port = turn.map_or_else(
                || port_deg.unwrap_or(f64::INFINITY) < starboard_deg.unwrap_or(f64::INFINITY),
                |turn| turn.by_deg < 0.0,
            );
            let name_of = |to_port: bool| if to_port { "port" } else { "starboard" };
            // A limit further off than the turn goes says nothing about it.
            let asked_deg = turn.map_or(FAR_DEG, |turn| turn.by_deg.abs());
            match (limit(to_port).filter(|here| *here < asked_deg), turn) {
                (Some(here), _) => format!(
                    "helm: to {} go no further than {here:.0}°; {}",
                    name_of(to_port),
                    match limit(!to_port).filter(|other| *other < FAR_DEG) {
                        None => format!("to {} the lines stand clear", name_of(!to_port)),
                        Some(other) =>
                            format!("to {} they stand clear for {other:.0}°", name_of(!to_port)),
                    }
                ),
                (None, Some(_)) => format!(
                    "helm: turn slowly and watch {name}: the lines may swing near it, and settle clear of it"
                ),
                (None, None) => {
                    format!("helm: hold steady and watch {name}: gusts may bring the lines near it")
                }
            }
        }
        Room::Nowhere => format!(
            "no heading keeps the lines clear of {name}: swing it in if that is safe, or wind the kite in"
        ),
        Room::Unknown => format!("helm: turn slowly, and away from {name} if the line nears it"),
    }
}
