//! What is so now rather than foreseen: silent and contradictory sensors, unknown line out, no
//! forecast, a wind shift.
//! Stateless.

use super::foresight::Foresight;
use super::scene::Scene;
use super::settings::AdviceSettings;
use super::shape::{Action, Kind, Priority};
use super::threat::{Mover, Threat};
use super::words;
use crate::decode::Line;
use crate::forecast::Lack;
use crate::vessel::{Doubted, Fault, Grade, Instrument, Missing, Reading, VesselNow};

/// With a turn sooner than this, line moves belong to the turn, not to the wind shift.
const TURN_AT_HAND_S: f64 = 30.0;

/// The plain facts of the moment.
pub(super) fn facts(scene: &Scene<'_>, settings: &AdviceSettings) -> impl Iterator<Item = Threat> {
    [
        data_lost(scene, settings),
        instruments_disagree(scene),
        rig_unset(scene),
        computer_slow(scene),
        no_forecast(scene, settings),
        lines_unchecked(scene),
    ]
    .into_iter()
    .flatten()
}

/// The wind has shifted, and the bait needs another length of main line.
pub(super) fn wind_shift(foresight: &Foresight<'_>) -> Option<Threat> {
    let Foresight {
        scene,
        forecast,
        settings,
        alive,
    } = *foresight;
    // With a turn at hand its plan decides about the lines.
    if forecast
        .turn
        .is_some_and(|turn| turn.starts_in_s < TURN_AT_HAND_S)
    {
        return None;
    }
    let ease = if alive.contains_key(&Kind::WindShift) {
        0.6
    } else {
        1.0
    };
    // A sensor in doubt is told of as such, and shifts no wind.
    if scene.vessel.true_wind.as_ref()?.grade <= Grade::Doubted {
        return None;
    }
    let shift = scene.vessel.wind_statistics?.shift_rad.to_degrees();
    let ahead = forecast
        .fan
        .iter()
        .min_by(|a, b| a.turn_deg.abs().total_cmp(&b.turn_deg.abs()))?;
    let change_m = ahead.main_line_change_m?;
    if shift.abs() < ease * settings.wind_shift_deg
        || change_m.abs() < ease * settings.wind_shift_line_m
    {
        return None;
    }
    let (portions, by_m) = forecast.hands.portions(change_m.round());
    Some(Threat {
        chance_basis: "measured wind; the line from the settled rig".to_owned(),
        cause: words::shift_cause("moves the bait", shift),
        mover: Mover::Shift,
        actions: vec![
            Action::MoveLine {
                line: Line::Main,
                by_m,
                to_m: scene.deck.lines.main_m.map(|m| (m + by_m).max(0.0)),
                start_at: scene.at,
                over_s: forecast.hands.over_s(Line::Main, by_m),
                pace_m_per_s: forecast.hands.pace_m_per_s(Line::Main, by_m),
                cranks: forecast.hands.cranks(Line::Main, by_m),
                portions,
                in_one_go: forecast.hands.is_one_go(by_m),
                changed: None,
            },
            Action::see(words::HANDS),
        ],
        without_action: words::without_shift(change_m).to_owned(),
        ..Threat::fact(Kind::WindShift, Priority::Caution)
    })
}

/// A needed quantity has no live source.
fn data_lost(scene: &Scene<'_>, settings: &AdviceSettings) -> Option<Threat> {
    let told: Vec<&Missing> = scene
        .vessel
        .missing
        .iter()
        .filter(|missing| {
            !scene
                .vessel
                .doubts
                .iter()
                .any(|doubt| doubt.explains(missing))
        })
        .filter(|missing| match missing.last_heard {
            Some(heard) => scene.at.seconds_since(heard) >= settings.data_lost_s,
            None => scene.settled_in,
        })
        .collect();
    if told.is_empty() {
        return None;
    }
    Some(Threat {
        cause: told
            .iter()
            .map(|missing| missing.why.as_str())
            .collect::<Vec<_>>()
            .join("; "),
        actions: vec![Action::see(
            "check the instrument, its power and the network; steer and trim by eye",
        )],
        without_action: "no forecast until this is fixed".to_owned(),
        topic: format!("{:?}", told.iter().map(|m| m.quantity).collect::<Vec<_>>()),
        ..Threat::fact(Kind::DataLost, Priority::Warning)
    })
}

/// Instruments contradict each other or themselves.
fn instruments_disagree(scene: &Scene<'_>) -> Option<Threat> {
    let doubts = &scene.vessel.doubts;
    if doubts.is_empty() {
        return None;
    }
    let joined = |words: &dyn Fn(&Doubted) -> String| {
        let all: Vec<String> = doubts.iter().map(words).collect();
        all.join("; ")
    };
    let mut looks: Vec<&str> = doubts.iter().map(|doubt| doubt.look.as_str()).collect();
    looks.dedup();
    let trims = |doubt: &Doubted| {
        matches!(
            doubt.instrument,
            Instrument::Wind | Instrument::Heading | Instrument::RateOfTurn | Instrument::Log
        )
    };
    let priority = if doubts.iter().any(trims) {
        Priority::Warning
    } else {
        Priority::Caution
    };
    let told = |doubt: &Doubted| {
        let names = doubt.sources.join(" and ");
        format!("{names}: {}; expected {}", doubt.seen, doubt.expected)
    };
    Some(Threat {
        cause: joined(&told),
        actions: looks.into_iter().map(Action::see).collect(),
        without_action: joined(&|doubt| used_instead(doubt, scene.vessel)),
        topic: joined(&|doubt| format!("{:?} {:?}", doubt.instrument, doubt.sources)),
        ..Threat::fact(Kind::InstrumentsDisagree, priority)
    })
}

/// What the forecast rests on while a source is in doubt.
fn used_instead(doubt: &Doubted, vessel: &VesselNow) -> String {
    fn of<T>(reading: Option<&Reading<T>>) -> Option<(&str, Grade)> {
        reading.map(|reading| (reading.source.as_str(), reading.grade))
    }
    let (what, used) = match doubt.instrument {
        Instrument::Wind => ("wind", of(vessel.apparent_wind.as_ref())),
        Instrument::Heading => ("heading", of(vessel.heading_true_rad.as_ref())),
        Instrument::RateOfTurn => ("rate of turn", of(vessel.rate_of_turn_rad_s.as_ref())),
        Instrument::Log => ("speed", of(vessel.speed_water_mps.as_ref())),
        Instrument::GroundSpeed => ("speed over ground", of(vessel.speed_ground_mps.as_ref())),
        Instrument::Course => ("course over ground", of(vessel.course_true_rad.as_ref())),
        Instrument::Position => ("position", of(vessel.position.as_ref())),
        Instrument::Variation => ("variation", of(vessel.variation_rad.as_ref())),
        Instrument::Clock => return String::from("the forecast does not rest on that clock"),
    };
    match used {
        Some((source, Grade::Doubted)) => {
            format!("{what} still from {source}: the forecast is less sure")
        }
        Some((source, _)) => format!("{what} taken from {source}"),
        None if doubt.fault == Fault::MastheadStill => {
            String::from("no forecast until it moves again, or another wind sensor speaks")
        }
        None => format!("no {what} is used"),
    }
}

/// Nobody has said how much line is out.
fn rig_unset(scene: &Scene<'_>) -> Option<Threat> {
    let lines = &scene.deck.lines;
    let unset = match (lines.kite_m, lines.main_m) {
        (Some(_), Some(_)) => return None,
        (None, None) => "nobody has said how much kite line and main line are out",
        (None, Some(_)) => "nobody has said how much kite line is out",
        (Some(_), None) => "nobody has said how much main line is out",
    };
    // What was out before a restart is asked for at once.
    let restored = scene.deck.restored.as_ref();
    if !(scene.settled_in || restored.is_some()) || !scene.deck.fishing {
        return None;
    }
    // The steps of a launch count the lines.
    if scene.deck.launch.is_some() {
        return None;
    }
    let (cause, what) = match restored {
        Some(_) => (format!("{unset} since a restart"), "enter what is out now"),
        None => (
            unset.to_owned(),
            "enter the line out, as near as you can tell",
        ),
    };
    Some(Threat {
        cause,
        actions: vec![Action::see(what)],
        without_action: "no forecast until it is entered".to_owned(),
        topic: unset.to_owned(),
        ..Threat::fact(Kind::RigUnset, Priority::Caution)
    })
}

/// The computer is too slow for a forecast.
fn computer_slow(scene: &Scene<'_>) -> Option<Threat> {
    let none = scene.forecast.err().filter(|none| none.is_too_slow())?;
    Some(Threat {
        cause: none.reasons.join("; "),
        actions: vec![Action::see(
            "steer and trim by eye; close other programs on the computer, and see that it is not hot",
        )],
        without_action: "no forecast until it keeps up".to_owned(),
        ..Threat::fact(Kind::ComputerSlow, Priority::Warning)
    })
}

/// Why nothing is foreseen, where no other advisory says so and the crew does not want it so.
fn no_forecast(scene: &Scene<'_>, settings: &AdviceSettings) -> Option<Threat> {
    let none = scene.forecast.err()?;
    if !scene.settled_in || none.is_intended() || scene.blind_s < settings.lost_after_s {
        return None;
    }
    let untold: Vec<(Lack, &str)> = none
        .told()
        .filter(|(lack, _)| words::cure(*lack).is_some())
        .collect();
    if untold.is_empty() {
        return None;
    }
    let mut lacks: Vec<Lack> = untold.iter().map(|(lack, _)| *lack).collect();
    lacks.dedup();
    let cures = lacks.iter().filter_map(|lack| words::cure(*lack));
    Some(Threat {
        cause: untold
            .iter()
            .map(|(_, words)| *words)
            .collect::<Vec<_>>()
            .join("; "),
        actions: cures.chain([words::BY_EYE]).map(Action::see).collect(),
        without_action: "no forecast until this is fixed".to_owned(),
        topic: format!("{lacks:?}"),
        ..Threat::fact(
            Kind::NoForecast,
            if scene.in_trouble {
                Priority::Warning
            } else {
                Priority::Caution
            },
        )
    })
}

/// Line out is taken as it was before a restart.
fn lines_unchecked(scene: &Scene<'_>) -> Option<Threat> {
    let restored = scene.deck.restored.as_ref().filter(|before| before.used)?;
    Some(Threat {
        cause: format!(
            "{} as told before a restart",
            words::lines_out(&restored.lines)
        ),
        actions: vec![Action::see(
            "check the lines: say that they are still right, or enter what is out now",
        )],
        without_action: "the forecast rests on a count that may be wrong by now".to_owned(),
        topic: format!("{:?}", restored.lines),
        ..Threat::fact(Kind::LinesUnchecked, Priority::Caution)
    })
}
