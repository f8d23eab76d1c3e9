//! The heading on which the kite comes home while a fish is on the main line.
//! In: rig, structures, air and boat, where the fish is. Out: heading, way to turn, what is
//! nearest, loads while winding in; where no heading is clear, the best one and why it is not.

use serde::Serialize;
use utoipa::ToSchema;

use super::apart::{Fouls, Geometry};
use super::situation::Situation;
use super::wind_in::{Winding, wind_in};
use crate::angles::wrap_positive;
use crate::rig::{KiteAlone, KiteAloneIn, LOWEST_KITE_RAD};

/// Headings looked at: every so many degrees, and where there is little room every degree.
const STEP_DEG: i32 = 3;
/// Headings with so much less room than the best, m, may have the best between them.
const BETWEEN_M: f64 = 1.5;
/// Lengths of kite line looked at, from all that is out to nearly none: as shares of it.
const SHARES: [f64; 7] = [1.0, 0.75, 0.55, 0.4, 0.25, 0.13, 0.06];
/// With less line than this the kite is as good as home, m (own choice): where it drops then, or its
/// line comes near something, that is told, and refuses a heading only where another is better.
const NEARLY_IN_M: f64 = 20.0;
/// A kite that drops on the last metres weighs as much as so much more of the least load (own
/// choice).
const DROP_COST: f64 = 0.5;
/// Room that is given up for an easier heading, m.
const GIVEN_UP_M: f64 = 0.05;
/// Lowest kite that is wound in without falling into the water in a lull, radians (own limit: the
/// lowest kite that the model calls usable).
const LOWEST_RAD: f64 = LOWEST_KITE_RAD;
/// More room than this, m, is no better (own choice).
const ROOM_M: f64 = 1.0;
/// Less room than this, m, is narrow: about what boat's motion and a rough model may take (own
/// choice).
pub const NARROW_M: f64 = 0.5;
/// Half a turn weighs as much as so much more of the least load (own choice).
const TURN_COST: f64 = 0.5;

/// How far a heading keeps the lines apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Clearance {
    /// No heading does.
    None,
    /// It does, with less than half a metre to spare.
    Narrow,
    /// It does.
    Clear,
}

/// Which way to turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// To port.
    Port,
    /// To starboard.
    Starboard,
    /// As she goes.
    Hold,
}

/// The advised heading and what comes of it. Angles in radians, to starboard positive.
#[derive(Debug, Clone, PartialEq)]
pub struct Recovery {
    /// Whether it keeps everything apart.
    pub verdict: Clearance,
    /// The heading, true, 0 to 2 pi.
    pub heading_rad: f64,
    /// Turn to it from the heading now, the way advised: beyond half a turn where only that way
    /// is clear.
    pub turn_rad: f64,
    /// The way.
    pub way: Way,
    /// Whether the lines stay apart on the way there.
    pub way_clear: bool,
    /// Room left, m; negative where something fouls.
    pub clear_by_m: f64,
    /// What is nearest or fouls, in words.
    pub nearest: String,
    /// Kite off dead astern of its rod there.
    pub kite_off_astern_rad: f64,
    /// Fish off the bow there; `None` without a fish.
    pub fish_off_bow_rad: Option<f64>,
    /// Kite line out with which the kite may drop into the water, in the mean wind; `None` when it
    /// stays up all the way.
    pub drops_with_m: Option<f64>,
    /// What is too near with less than 20 m of kite line out, and with how much, m; `None` when the
    /// lines stay apart all the way, or do not before.
    pub last_metres: Option<(f64, String)>,
    /// The kite coming in there.
    pub winding: Winding,
    /// The heading that loads the rod least of those that are as clear, true, 0 to 2 pi.
    pub easiest_rad: f64,
}

/// One heading looked at.
struct Looked {
    heading_rad: f64,
    turn_rad: f64,
    room: Fouls,
    /// On the last metres of kite line, and with how many of them the least room is.
    last: (f64, Fouls),
    /// Load at the rod with all line out, N, and where the kite is.
    kite: Option<KiteAlone>,
    /// Length with which it no longer flies.
    drops_with_m: Option<f64>,
}

impl Looked {
    fn is_clear(&self) -> bool {
        self.kite.is_some() && self.room.by_m >= 0.0
    }

    /// Room all the way, m.
    fn all_the_way_m(&self) -> f64 {
        self.room.by_m.min(self.last.1.by_m)
    }

    fn load_n(&self) -> f64 {
        self.kite.as_ref().map_or(f64::INFINITY, |k| k.load_n)
    }
}

/// The advised heading. `None` when the kite stays up on no heading.
#[must_use]
pub fn recovery(s: &Situation<'_>) -> Option<Recovery> {
    let kite_in = KiteAloneIn::new(s.rig, s.wind.shear_exponent);
    let geometry = Geometry::new(s.rig, s.structures);
    let look_at = |turn_deg: i32| {
        let turn_deg = (turn_deg + 180).rem_euclid(360) - 180;
        look(s, &kite_in, &geometry, f64::from(turn_deg).to_radians())
    };
    let steps = 0..360 / STEP_DEG;
    let mut looked: Vec<Looked> = steps.clone().map(|i| look_at(i * STEP_DEG)).collect();
    let most_m = most_room_m(&looked, Looked::all_the_way_m);
    if most_m < NARROW_M {
        let near = |i: &i32| {
            usize::try_from(*i)
                .ok()
                .and_then(|i| looked.get(i))
                .is_some_and(|l| l.kite.is_some() && l.room.by_m >= most_m - BETWEEN_M)
        };
        let between: Vec<Looked> = steps
            .filter(near)
            .flat_map(|i| [-1, 1].map(|by| look_at(i * STEP_DEG + by)))
            .collect();
        looked.extend(between);
    }
    let best = choose(&looked)?;
    let kite = best.kite.as_ref()?;
    let winding = wind_in(s, &kite_in, best.heading_rad)?;
    let (way, turn_rad, way_clear) = way_there(&looked, best.turn_rad);
    let easiest = looked
        .iter()
        .filter(|l| l.kite.is_some())
        .filter(|l| l.all_the_way_m().min(ROOM_M) >= best.all_the_way_m().min(ROOM_M))
        .min_by(|a, b| a.load_n().total_cmp(&b.load_n()))
        .unwrap_or(best);
    let last_metres = (best.room.by_m >= 0.0 && best.last.1.by_m < 0.0)
        .then(|| (best.last.0, best.last.1.what.clone()));
    let room = match &last_metres {
        Some(_) => best.room.clone(),
        None => best.room.clone().or(best.last.1.clone()),
    };
    Some(Recovery {
        verdict: match verdict(room.by_m) {
            Clearance::Clear if last_metres.is_some() => Clearance::Narrow,
            found => found,
        },
        heading_rad: best.heading_rad,
        turn_rad,
        way,
        way_clear,
        clear_by_m: room.by_m,
        nearest: room.what,
        kite_off_astern_rad: kite.off_astern_rad,
        fish_off_bow_rad: s.fish_off_bow_rad(best.heading_rad),
        drops_with_m: best.drops_with_m,
        last_metres,
        winding,
        easiest_rad: easiest.heading_rad,
    })
}

/// Greatest room among the headings on which the kite flies, m.
fn most_room_m(looked: &[Looked], room_m: impl Fn(&Looked) -> f64) -> f64 {
    looked
        .iter()
        .filter(|l| l.kite.is_some())
        .map(room_m)
        .fold(f64::NEG_INFINITY, f64::max)
}

fn verdict(by_m: f64) -> Clearance {
    if by_m < 0.0 {
        Clearance::None
    } else if by_m < NARROW_M {
        Clearance::Narrow
    } else {
        Clearance::Clear
    }
}

fn look(
    s: &Situation<'_>,
    kite_in: &KiteAloneIn<'_>,
    geometry: &Geometry<'_>,
    turn_rad: f64,
) -> Looked {
    let heading_rad = wrap_positive(s.heading_rad + turn_rad);
    let fish = s
        .fish_off_bow_rad(heading_rad)
        .map(|off_bow_rad| geometry.fish(off_bow_rad));
    let mut room = fish
        .as_ref()
        .map_or_else(Fouls::nothing, |fish| fish.room(geometry));
    let mut first: Option<KiteAlone> = None;
    let mut last = (0.0, Fouls::nothing());
    let mut drops_with_m = None;
    for share in SHARES {
        let out_m = (share * s.kite_line_out_m).max(1.0);
        let conditions = s.conditions(heading_rad, out_m);
        let pace_mps = first
            .as_ref()
            .map_or(0.0, |kite| s.winder.pace_mps(kite.load_n));
        let flown = kite_in
            .fly(&conditions, pace_mps)
            .filter(|kite| kite.elevation_rad >= LOWEST_RAD);
        match flown {
            Some(kite) => {
                let found = geometry.kite(&kite.line_m, fish.as_ref());
                if first.is_none() || out_m >= NEARLY_IN_M {
                    room = room.or(found);
                } else if found.by_m < last.1.by_m {
                    last = (out_m, found);
                }
                first.get_or_insert(kite);
            }
            None if first.is_some() && out_m < NEARLY_IN_M => {
                drops_with_m = Some(out_m);
                break;
            }
            None => {
                first = None;
                break;
            }
        }
    }
    Looked {
        heading_rad,
        turn_rad,
        room,
        last,
        kite: first,
        drops_with_m,
    }
}

/// The heading that is clear all the way with little load and little turn; where none is, one that is
/// clear until the last metres, and else the one with most room.
fn choose(looked: &[Looked]) -> Option<&Looked> {
    let flying = || looked.iter().filter(|l| l.kite.is_some());
    let most_of = |room_m: fn(&Looked) -> f64, at_least_m: f64| {
        flying()
            .filter(|l| l.room.by_m >= at_least_m)
            .max_by(|a, b| room_m(a).total_cmp(&room_m(b)))
    };
    let most_m = most_room_m(looked, Looked::all_the_way_m);
    if most_m < 0.0 {
        return most_of(Looked::all_the_way_m, 0.0)
            .or_else(|| most_of(|l| l.room.by_m, f64::NEG_INFINITY));
    }
    let enough_m = (most_m - GIVEN_UP_M).clamp(0.0, ROOM_M);
    let least_n = flying().map(Looked::load_n).fold(f64::INFINITY, f64::min);
    let cost = |l: &Looked| {
        let drop = l.drops_with_m.map_or(0.0, |_| DROP_COST);
        let turn = TURN_COST * l.turn_rad.abs() / std::f64::consts::PI;
        l.load_n() / least_n.max(1e-9) + turn + drop
    };
    flying()
        .filter(|l| l.all_the_way_m() >= enough_m)
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))
}

/// The way to turn: the short one if all headings on it are clear, else the long one if those are,
/// else the short one.
fn way_there(looked: &[Looked], turn_rad: f64) -> (Way, f64, bool) {
    if turn_rad == 0.0 {
        return (Way::Hold, 0.0, true);
    }
    let long_rad = turn_rad - std::f64::consts::TAU.copysign(turn_rad);
    // A way begins where the boat is, clear or not.
    let clear = |by_rad: f64| {
        looked.iter().filter(|l| l.turn_rad != 0.0).all(|l| {
            let along = (l.turn_rad * by_rad.signum()).rem_euclid(std::f64::consts::TAU);
            along > by_rad.abs() || l.is_clear()
        })
    };
    let (by_rad, is_clear) = if clear(turn_rad) {
        (turn_rad, true)
    } else if clear(long_rad) {
        (long_rad, true)
    } else {
        (turn_rad, false)
    };
    let way = if by_rad < 0.0 {
        Way::Port
    } else {
        Way::Starboard
    };
    (way, by_rad, is_clear)
}
