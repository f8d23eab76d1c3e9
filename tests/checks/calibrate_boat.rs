//! An invented boat with known errors of her instruments, in an invented current and gusty wind. All
//! numbers are invented; gusts, noise and wander are of another form than the estimates assume.

use std::f64::consts::TAU;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use skimwatch::calibrate::{CalibrationNow, Calibrator};
use skimwatch::decode::{HeadingObservation, Observation};
use skimwatch::time::Millis;
use skimwatch::units::{degrees, degrees_per_second, knots};
use skimwatch::vessel::{Corrections, Sender, Vessel, VesselSettings};

const KN: f64 = 1852.0 / 3600.0;

/// Corrections that the instruments need.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Needs {
    pub vane_deg: f64,
    pub wind_factor: f64,
    pub log_factor: f64,
    /// Whatever the heading, with its sine, with its cosine.
    pub compass_deg: [f64; 3],
    pub rate_deg_s: f64,
}

pub(crate) const HONEST: Needs = Needs {
    vane_deg: 0.0,
    wind_factor: 1.0,
    log_factor: 1.0,
    compass_deg: [0.0; 3],
    rate_deg_s: 0.0,
};

struct Chance(ChaCha8Rng);

impl Chance {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Normal, by Box and Muller.
    fn normal(&mut self, sigma: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.0.random::<f64>()).ln()).sqrt();
        sigma * radius * (TAU * self.0.random::<f64>()).cos()
    }
}

/// A number that forgets where it was.
struct Wobble {
    value: f64,
    sigma: f64,
    time_s: f64,
}

impl Wobble {
    fn new(sigma: f64, time_s: f64) -> Self {
        Self {
            value: 0.0,
            sigma,
            time_s,
        }
    }

    fn step(&mut self, chance: &mut Chance) -> f64 {
        let left = (-1.0 / self.time_s).exp();
        self.value = self.value * left + chance.normal(self.sigma) * (1.0 - left * left).sqrt();
        self.value
    }
}

/// The course of one day: one heading a second, degrees, and the rate, degrees a second.
struct Helm {
    heading_deg: f64,
    left_deg: f64,
    rate_deg_s: f64,
    straight_s: f64,
}

impl Helm {
    fn step(&mut self, chance: &mut Chance) -> f64 {
        if self.left_deg > 0.0 {
            let by = self.rate_deg_s.abs().min(self.left_deg);
            self.left_deg -= by;
            self.heading_deg += by.copysign(self.rate_deg_s);
            return by.copysign(self.rate_deg_s);
        }
        self.straight_s -= 1.0;
        if self.straight_s <= 0.0 {
            self.straight_s = chance.between(80.0, 240.0);
            self.left_deg = chance.between(40.0, 150.0);
            let side = if chance.between(0.0, 1.0) < 0.5 {
                -1.0
            } else {
                1.0
            };
            self.rate_deg_s = side * chance.between(2.5, 6.0);
        }
        0.0
    }
}

fn east_north(toward_deg: f64, length: f64) -> [f64; 2] {
    let (sin, cos) = toward_deg.to_radians().sin_cos();
    [length * sin, length * cos]
}

fn direction_deg([east, north]: [f64; 2]) -> f64 {
    east.atan2(north).to_degrees().rem_euclid(360.0)
}

/// Rounded as a sentence is.
fn rounded(value: f64, to: f64) -> f64 {
    (value / to).round() * to
}

/// Sails for so long, and looks after each turn that the calibrator has counted and at the end.
pub(crate) fn sail(
    seed: u64,
    needs: Needs,
    hours: f64,
    mut look: impl FnMut(f64, &Calibrator, &CalibrationNow),
) {
    let mut chance = Chance(ChaCha8Rng::seed_from_u64(seed));
    let mut vessel = Vessel::new(VesselSettings::default());
    let mut calibrator = Calibrator::default();
    let mut helm = Helm {
        heading_deg: chance.between(0.0, 360.0),
        left_deg: 0.0,
        rate_deg_s: 0.0,
        straight_s: 60.0,
    };
    let speed_mps = chance.between(2.2, 4.5);
    let leeway = chance.between(0.0, 0.03);
    let (from_deg, wind_mps) = (chance.between(0.0, 360.0), chance.between(5.0, 10.0));
    let (set_deg, drift_mps) = (chance.between(0.0, 360.0), chance.between(0.0, 0.6));
    let (phase, tide) = (chance.between(0.0, 6.3), chance.between(-0.25, 0.25));
    let time_s = chance.between(12.0, 50.0);
    let mut along = Wobble::new(0.10 * wind_mps, time_s);
    let mut across = Wobble::new(0.08 * wind_mps, time_s);
    let mut way = Wobble::new(0.12, 20.0);
    let mut yaw = Wobble::new(1.5, 4.0);
    let mut drifts = [Wobble::new(0.05, 60.0), Wobble::new(0.05, 60.0)];
    let mut receiver = [0.0; 2];
    let start = Millis(1_780_000_000_000);
    for second in 0..(hours * 3600.0) as i64 {
        let t = second as f64;
        let rate_deg_s = helm.step(&mut chance);
        let yawed = yaw.value;
        let heading = helm.heading_deg + yaw.step(&mut chance);
        let s = speed_mps + way.step(&mut chance);
        // Wind over the ground: veers and backs, freshens and eases, and is gusty.
        let veer = 7.0 * (t / 2400.0 * TAU + phase).sin();
        let mean = wind_mps * (1.0 + 0.1 * (t / 1700.0 * TAU - phase).sin());
        let blows = east_north(from_deg + veer + 180.0, mean + along.step(&mut chance));
        let side = east_north(from_deg + veer + 90.0, across.step(&mut chance));
        let wind = [blows[0] + side[0], blows[1] + side[1]];
        let set = east_north(set_deg + t / 200.0, drift_mps + tide * t / 3600.0);
        let current = [
            set[0] + drifts[0].step(&mut chance),
            set[1] + drifts[1].step(&mut chance),
        ];
        let ahead = east_north(heading, s);
        let mut ground = [ahead[0] + current[0], ahead[1] + current[1]];
        let starboard = east_north(heading + 90.0, 1.0);
        let felt = [wind[0] - ground[0], wind[1] - ground[1]];
        let slip = leeway * (felt[0] * starboard[0] + felt[1] * starboard[1]);
        ground = [
            ground[0] + slip * starboard[0],
            ground[1] + slip * starboard[1],
        ];
        let felt = [ground[0] - wind[0], ground[1] - wind[1]];
        for (receiver, ground) in receiver.iter_mut().zip(ground) {
            *receiver += 0.6 * (ground - *receiver);
        }
        let received = receiver.map(|v| v + chance.normal(0.06));
        let at = start.plus_seconds(t);
        let shown = shown_deg(heading, needs.compass_deg) + chance.normal(0.5);
        let angle = direction_deg(felt) - heading - needs.vane_deg + chance.normal(2.0);
        let felt_mps = felt[0].hypot(felt[1]) / needs.wind_factor + chance.normal(0.2);
        let log_mps = s / needs.log_factor + chance.normal(0.05);
        let turning = rate_deg_s + heading - helm.heading_deg - yawed - needs.rate_deg_s;
        let kn = |mps: f64| knots(rounded((mps / KN).max(0.0), 0.1));
        let whole = |deg: f64| degrees(rounded(deg, 1.0).rem_euclid(360.0));
        let sent = [
            (
                "HC",
                "HDT",
                Observation::Heading(HeadingObservation::True {
                    heading: degrees(rounded(shown, 0.1).rem_euclid(360.0)),
                }),
            ),
            (
                "VW",
                "VHW",
                Observation::WaterSpeed {
                    longitudinal: kn(log_mps),
                    transverse: None,
                },
            ),
            (
                "GP",
                "VTG",
                Observation::CourseOverGround {
                    true_north: Some(degrees(rounded(direction_deg(received), 0.1))),
                    magnetic: None,
                },
            ),
            (
                "GP",
                "VTG",
                Observation::SpeedOverGround(kn(received[0].hypot(received[1]))),
            ),
            (
                "WI",
                "MWV",
                Observation::ApparentWind {
                    angle: Some(whole(angle)),
                    speed: Some(kn(felt_mps)),
                },
            ),
            (
                "TI",
                "ROT",
                Observation::RateOfTurn(degrees_per_second(turning + chance.normal(0.3))),
            ),
        ];
        for (talker, kind, observation) in sent {
            vessel.observe(at, Sender::on_line("invented", talker, kind), &observation);
        }
        calibrator.look(&vessel.measured(at));
        if second % 10 == 9 {
            look(t, &calibrator, &calibrator.now(&Corrections::default()));
        }
    }
}

/// What the compass sends so that the curve makes it this heading.
fn shown_deg(heading: f64, [a, b, c]: [f64; 3]) -> f64 {
    (0..20).fold(heading, |shown, _| {
        let (sin, cos) = shown.to_radians().sin_cos();
        heading - (a + b * sin + c * cos)
    })
}
