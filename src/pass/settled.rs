//! How the typical rig hangs on every heading with its bait trimmed: what the search steers by.
//! In: the typical rig. Out: place of the bait behind the boat, line to move, and what bars a
//! heading.

use super::situation::Situation;
use crate::angles::{wrap_positive, wrap_signed};
use crate::rig::{Conditions, Current, MainLine, NoTrim, Sample, State, Wind, steady};

/// Headings looked at; between them the place of the bait is interpolated.
const HEADINGS: usize = 72;
/// Line that is moved in one order at most, m (own judgement: a minute of winding).
const MOST_MOVED_M: f64 = 60.0;
/// A lull that the kite must outlast, as a share of the wind (own choice: two standard deviations of
/// what the forecast expects of a minute).
const LULL: f64 = 0.8;
/// A kite further forward than this off dead astern has its lines over the boat, radians.
const FORWARD_RAD: f64 = 1.75;

/// What bars a heading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bar {
    /// The rig cannot be fished there: too little wind at the kite.
    Light,
    /// Too much line would be needed, or moved.
    Line,
    /// The kite would hang low, ahead or over the boat.
    Kite,
    /// A line would come too near to a structure.
    Foul,
    /// The kite would change sides.
    Side,
    /// The captain's sector.
    Sector,
}

/// The rig on one heading.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hangs {
    /// Bait from the boat, astern and to starboard, m.
    pub bait_m: [f64; 2],
    /// Main line to let out (+) or wind in (-), m.
    pub by_m: f64,
}

/// The rig on all headings at one speed.
#[derive(Debug, Clone)]
pub(super) struct Settled {
    all: Vec<Result<Hangs, Bar>>,
}

impl Settled {
    pub fn new(sit: &Situation<'_>, speed_mps: f64) -> Self {
        let typical = &sit.rigs.typical;
        let side = kite_off_astern_now(sit);
        let mut hint: Option<State> = None;
        let all = (0..HEADINGS)
            .map(|i| {
                let heading_rad = heading_of(i);
                if sit
                    .bounds
                    .no_go
                    .is_some_and(|sector| sector.holds(heading_rad))
                {
                    return Err(Bar::Sector);
                }
                let conditions = Conditions {
                    wind: typical.mean,
                    current: Current::default(),
                    boat_speed_mps: speed_mps,
                    heading_rad,
                    kite_line_out_m: typical.lines.kite_m,
                };
                let main = MainLine::Immersion(sit.rigs.trim_immersion);
                // A start from the heading before may lead astray where the rig hangs otherwise.
                let found = steady(&typical.rig, &conditions, main, hint.as_ref())
                    .or_else(|_| steady(&typical.rig, &conditions, main, None));
                let found = found.map_err(|why| bar(&why))?;
                hint = Some(found.state.clone());
                let off_rad = off_astern_rad(&found.sample);
                if off_rad.abs() > FORWARD_RAD {
                    return Err(Bar::Kite);
                }
                if sit.bounds.keeps_side && side.is_some_and(|side| side * off_rad < 0.0) {
                    return Err(Bar::Side);
                }
                let shape = &found.sample.shape;
                // A lull on the way must not bring the kite down.
                let lull = Conditions {
                    wind: Wind {
                        speed_10m_mps: LULL * typical.mean.speed_10m_mps,
                        ..typical.mean
                    },
                    ..conditions
                };
                let out = MainLine::Out(found.main_line_m);
                if steady(&typical.rig, &lull, out, Some(&found.state)).is_err() {
                    return Err(Bar::Light);
                }
                let fouls = sit.bounds.structures.iter().any(|structure| {
                    let [kite, main] = structure.gaps_m(shape);
                    kite.min(main) < structure.clearance_m
                });
                if fouls {
                    return Err(Bar::Foul);
                }
                let by_m = found.main_line_m - typical.lines.main_m;
                if by_m.abs() > MOST_MOVED_M {
                    return Err(Bar::Line);
                }
                let [aft, starboard, _] = shape.bait();
                Ok(Hangs {
                    bait_m: [aft, starboard],
                    by_m,
                })
            })
            .collect();
        Self { all }
    }

    /// On a heading, between the two neighbours; where one of them is barred, half the way to it counts
    /// as the other.
    pub fn on(&self, heading_rad: f64) -> Result<Hangs, Bar> {
        let x = wrap_positive(heading_rad) / std::f64::consts::TAU * HEADINGS as f64;
        let i = x as usize % HEADINGS;
        let share = x - x.floor();
        let (a, b) = match (self.all[i], self.all[(i + 1) % HEADINGS]) {
            (Ok(a), Ok(b)) => (a, b),
            (Ok(a), Err(_)) if share < 0.5 => (a, a),
            (Err(_), Ok(b)) if share >= 0.5 => (b, b),
            (Err(bar), _) | (_, Err(bar)) => return Err(bar),
        };
        let mix = |a: f64, b: f64| a + share * (b - a);
        Ok(Hangs {
            bait_m: [mix(a.bait_m[0], b.bait_m[0]), mix(a.bait_m[1], b.bait_m[1])],
            by_m: mix(a.by_m, b.by_m),
        })
    }

    /// What bars most headings, if any can be fished at all.
    pub fn usual_bar(&self) -> Option<Bar> {
        let of = |bar: Bar| {
            self.all
                .iter()
                .filter(|one| one.as_ref().err() == Some(&bar))
                .count()
        };
        [
            Bar::Light,
            Bar::Line,
            Bar::Kite,
            Bar::Foul,
            Bar::Side,
            Bar::Sector,
        ]
        .into_iter()
        .map(|bar| (of(bar), bar))
        .filter(|(count, _)| *count > 0)
        .max_by_key(|(count, _)| *count)
        .map(|(_, bar)| bar)
    }
}

fn heading_of(i: usize) -> f64 {
    i as f64 / HEADINGS as f64 * std::f64::consts::TAU
}

fn bar(why: &NoTrim) -> Bar {
    match why {
        NoTrim::TooLittleWind { .. } => Bar::Light,
        NoTrim::TooMuchLine { .. } | NoTrim::LineInWater => Bar::Line,
        NoTrim::Refused(_)
        | NoTrim::BaitAhead { .. }
        | NoTrim::KiteLow { .. }
        | NoTrim::NotConverged { .. } => Bar::Kite,
    }
}

/// Kite off dead astern, + to starboard.
fn off_astern_rad(sample: &Sample) -> f64 {
    wrap_signed(std::f64::consts::PI - (sample.kite_azimuth_rad - sample.heading_rad))
}

/// The side of the kite now: the settled one on this heading.
fn kite_off_astern_now(sit: &Situation<'_>) -> Option<f64> {
    let typical = &sit.rigs.typical;
    let conditions = Conditions {
        wind: typical.mean,
        current: Current::default(),
        boat_speed_mps: sit.boat.speed_mps,
        heading_rad: wrap_signed(sit.boat.heading_rad),
        kite_line_out_m: typical.lines.kite_m,
    };
    let main = MainLine::Out(typical.lines.main_m);
    let found = steady(&typical.rig, &conditions, main, Some(&typical.state)).ok()?;
    Some(off_astern_rad(&found.sample))
}
