//! The greatest turn rate at which hands can keep the bait skipping.
//!
//! For each side the turn is simulated at increasing rates with three representative futures, from
//! a trimmed bait. Hands begin to move the line that the new heading needs half their reaction time
//! after the helm goes over, because the turn is announced to them. A rate is good when the bait
//! flies or drags for longer than a hop in at most one of the three.

use crate::decode::Line;
use crate::forecast::filter::Running;
use crate::forecast::futures::{Ahead, Course, Move, run_from};
use crate::forecast::settings::ForecastSettings;
use crate::forecast::shape::TurnLimit;
use crate::rig::{LineLengths, MainLine, Rig, State, Wind};
use crate::turn::{HeadingProfile, LikelyTurn, TurnCommand};

/// Rates tried.
const RATES_DEG_S: [f64; 8] = [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0];
/// Change of heading assumed when no turn is known.
const USUAL_DEG: f64 = 45.0;
/// How long the rig is watched after the helm is back amidships.
const AFTER_S: f64 = 35.0;

struct Trial<'a> {
    rig: &'a Rig,
    state: State,
    winds: Vec<Wind>,
    lines: LineLengths,
    change_m: f64,
}

/// Limits to both sides.
pub fn limit(ahead: &Ahead<'_>, turn_deg: Option<f64>) -> TurnLimit {
    let _span = tracing::trace_span!("limits").entered();
    let for_deg = turn_deg.map_or(USUAL_DEG, f64::abs).clamp(10.0, 150.0);
    let (port, starboard) = rayon::join(|| fastest(ahead, -for_deg), || fastest(ahead, for_deg));
    let mut why: Vec<String> = Vec::new();
    for (side, found, sign) in [("port", &port, -1.0), ("starboard", &starboard, 1.0)] {
        match found {
            Side::Free => {}
            Side::Upto(rate) => why.push(format!(
                "to {side} hands keep up with {rate} °/s for {for_deg:.0}°"
            )),
            Side::Never => {
                let step = for_deg / 3.0;
                match fastest(ahead, sign * step) {
                    Side::Upto(rate) => why.push(format!(
                        "to {side} turn in steps of {step:.0}° at {rate} °/s and trim between them"
                    )),
                    Side::Free => why.push(format!(
                        "to {side} turn in steps of {step:.0}° and trim between them"
                    )),
                    Side::Never | Side::NoTrim => why.push(format!(
                        "to {side} no rate was found that keeps the bait skipping"
                    )),
                }
            }
            Side::NoTrim => why.push(format!(
                "{for_deg:.0}° to {side} cannot be fished with this kite line"
            )),
        }
    }
    if why.is_empty() {
        why.push(format!(
            "hands keep up with any usual rate for {for_deg:.0}°"
        ));
    }
    TurnLimit {
        port_deg_s: port.rate(),
        starboard_deg_s: starboard.rate(),
        for_deg,
        why: why.join("; "),
    }
}

enum Side {
    Free,
    Upto(f64),
    Never,
    NoTrim,
}

impl Side {
    fn rate(&self) -> Option<f64> {
        match self {
            Self::Free => RATES_DEG_S.last().copied(),
            Self::Upto(rate) => Some(*rate),
            Self::Never | Self::NoTrim => None,
        }
    }
}

/// The fastest good rate, by bisection: a rate above a bad one is assumed to be bad too.
fn fastest(ahead: &Ahead<'_>, by_deg: f64) -> Side {
    let trials = trials(ahead, by_deg);
    if trials.len() < 2 {
        return Side::NoTrim;
    }
    let good = |rate: f64| {
        let allowed = trials.len() - 2;
        let bad = trials
            .iter()
            .filter(|trial| !trial.stays(ahead, by_deg, rate))
            .take(allowed + 1);
        bad.count() <= allowed
    };
    let (mut low, mut high) = (0, RATES_DEG_S.len());
    while low < high {
        let middle = (low + high) / 2;
        if good(RATES_DEG_S[middle]) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    match low {
        0 => Side::Never,
        n if n == RATES_DEG_S.len() => Side::Free,
        n => Side::Upto(RATES_DEG_S[n - 1]),
    }
}

fn trials<'a>(ahead: &'a Ahead<'_>, by_deg: f64) -> Vec<Trial<'a>> {
    let settings = ahead.settings;
    let trim = MainLine::Immersion(settings.trim_immersion);
    let here = ahead.profile.heading_rad;
    ahead
        .few(3)
        .into_iter()
        .filter_map(|(i, _)| {
            let particle = ahead.particle(i)?;
            let now = ahead.settled(i, here, trim, 0.0)?.ok()?;
            let then = ahead
                .settled(i, here + by_deg.to_radians(), trim, 0.0)?
                .ok()?;
            let air = particle.air?;
            Some(Trial {
                rig: particle.rig.as_ref()?,
                state: now.state,
                winds: vec![air.mean; 2],
                lines: LineLengths {
                    kite_m: particle.lines?.end.kite_m,
                    main_m: now.main_line_m,
                },
                change_m: then.main_line_m - now.main_line_m,
            })
        })
        .collect()
}

impl Trial<'_> {
    fn stays(&self, ahead: &Ahead<'_>, by_deg: f64, rate_deg_s: f64) -> bool {
        let settings: &ForecastSettings = ahead.settings;
        let profile = HeadingProfile {
            yaw_rate_rad_s: 0.0,
            turns: vec![LikelyTurn::sure(TurnCommand {
                start_s: 0.0,
                by_rad: by_deg.to_radians(),
                rate_rad_s: rate_deg_s.to_radians(),
            })],
            ..ahead.profile
        };
        let hands = &settings.hands;
        // Line moves no faster than hands and no faster than the turn: too early is as bad as too
        // late.
        let over_s = (self.change_m.abs() / hands.pace_m_per_s(Line::Main, self.change_m))
            .max(0.8 * by_deg.abs() / rate_deg_s)
            .max(1.0);
        let moves = [Move {
            line: Line::Main,
            by_m: self.change_m,
            start_s: 0.5 * hands.reaction_s,
            over_s,
        }];
        let until_s = profile.helm_done_s(0).min(240.0) + AFTER_S;
        let course = Course {
            profile,
            speed_mps: ahead.speed_mps,
            ways: &[],
            winds: &self.winds,
            lines: Running::still(self.lines),
            moves: &moves,
            structures: &[],
        };
        let trace = run_from(self.rig, self.state.clone(), course, until_s, |_, _| {});
        trace.airborne_at_s(settings).is_none() && trace.dragging_at_s(settings).is_none()
    }
}
