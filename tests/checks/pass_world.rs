//! Invented moments before a pass: the true world, and what is believed of it.
//!
//! The boat is steered by hand: late, at another rate, with wander. The true rig, line and wind differ
//! from the believed ones by the doubts of the settings; gusts follow the laws of the forecast's
//! priors.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use skimwatch::forecast::{Hands, LIKELY_STEP_S, Likely, LikelyRigs, SkipBand};
use skimwatch::pass::{Boat, Bounds, Flat, JUDGES, Situation, Target};
use skimwatch::rig::{
    Conditions, Current, LineLengths, MainLine, Mesh, Rig, RigParameters, State, Wind,
    settled_state, steady,
};

pub const DRAGGING: f64 = skimwatch::rig::DRAGGING_IMMERSION;
pub const TRIM: f64 = 0.25;
/// Rigs that are weighed by what is said of the bait.
const POOL: usize = 96;

pub struct Dice(ChaCha8Rng);

impl Dice {
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }
    /// Normal, by Box and Muller.
    pub fn normal(&mut self) -> f64 {
        let (a, b): (f64, f64) = (self.0.random(), self.0.random());
        (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
    /// A quantity on three time scales that begins at 0: standard deviations and times.
    pub fn path(&mut self, sd: [f64; 3], tau_s: [f64; 3], step_s: f64, count: usize) -> Vec<f64> {
        let mut parts = [0.0; 3];
        (0..count)
            .map(|_| {
                let now = parts.iter().sum();
                for k in 0..3 {
                    let keep = (-step_s / tau_s[k]).exp();
                    parts[k] = keep * parts[k] + sd[k] * (1.0 - keep * keep).sqrt() * self.normal();
                }
                now
            })
            .collect()
    }
}

/// The doubts of the settings (`forecast.doubt`), and the sensor's.
fn other_rig(base: &RigParameters, dice: &mut Dice) -> RigParameters {
    let mut p = base.clone();
    p.kite.cl *= (0.15 * dice.normal()).exp();
    p.kite.cd *= (0.15 * dice.normal()).exp();
    p.bait.wet_drag_area_m2 *= (0.2 * dice.normal()).exp();
    p.main_line.diameter_m *= (0.08 * dice.normal()).exp();
    p.kite_line.diameter_m *= (0.08 * dice.normal()).exp();
    p.marker.diameter_m *= (0.08 * dice.normal()).exp();
    p
}

fn other_wind(wind: Wind, dice: &mut Dice) -> Wind {
    Wind {
        speed_10m_mps: wind.speed_10m_mps * (1.0 + 0.04 * dice.normal()),
        from_rad: wind.from_rad + (2.5 * dice.normal()).to_radians(),
        shear_exponent: (0.11 + 0.025 * dice.normal()).clamp(0.0, 0.4),
    }
}

const GUST_SD: [f64; 3] = [0.08, 0.06, 0.08];
const VEER_SD: [f64; 3] = [0.06, 0.052, 0.087];
const TAU: [f64; 3] = [6.0, 30.0, 150.0];
const YAW_SD: [f64; 3] = [0.03, 0.035, 0.02];
const YAW_TAU: [f64; 3] = [3.0, 12.0, 60.0];
const PACE_SD: [f64; 3] = [0.02, 0.03, 0.04];

pub fn gusty(mean: Wind, gust: f64, veer: f64) -> Wind {
    Wind {
        speed_10m_mps: mean.speed_10m_mps * gust.exp(),
        from_rad: mean.from_rad + veer,
        ..mean
    }
}

/// The true world.
pub struct Truth {
    pub rig: Rig,
    pub state: State,
    pub lines: LineLengths,
    pub wind: Wind,
    pub gust: Vec<f64>,
    pub veer: Vec<f64>,
    pub yaw: Vec<f64>,
    pub pace: Vec<f64>,
    pub late_s: f64,
    pub rate_share: f64,
    pub current_mps: Flat,
    pub speed_mps: f64,
    pub heading_rad: f64,
    pub mark_m: Flat,
    /// Seed of whoever watches the bait.
    pub watcher: u64,
}

/// What is believed.
pub struct Seen {
    pub rigs: LikelyRigs,
    /// Rigs that may be the true one, with its gusts and veers; the first of them are in `rigs`.
    pub pool: Vec<(Likely, [Vec<f64>; 2])>,
    pub current_mps: Flat,
}

pub fn conditions(wind: Wind, speed_mps: f64, heading_rad: f64, kite_m: f64) -> Conditions {
    Conditions {
        wind,
        current: Current::default(),
        boat_speed_mps: speed_mps,
        heading_rad,
        kite_line_out_m: kite_m,
    }
}

/// An invented moment; `None` where this rig cannot be fished.
pub fn invented(seed: u64, case: u64) -> Option<(Truth, Seen)> {
    let mut dice = Dice::new(seed, case);
    let base = RigParameters::default();
    let wind = Wind {
        speed_10m_mps: dice.uniform(9.0, 18.0) * 1852.0 / 3600.0,
        from_rad: dice.uniform(0.0, std::f64::consts::TAU),
        shear_exponent: (0.11 + 0.025 * dice.normal()).clamp(0.0, 0.4),
    };
    let speed_mps = dice.uniform(2.0, 3.5);
    let heading_rad = dice.uniform(0.0, std::f64::consts::TAU);
    let kite_m = dice.uniform(70.0, 110.0);
    let rig = Rig::new(&other_rig(&base, &mut dice)).unwrap();
    let immersion = dice.uniform(0.12, 0.45);
    let c = conditions(wind, speed_mps, heading_rad, kite_m);
    let hung = steady(&rig, &c, MainLine::Immersion(immersion), None).ok()?;
    let lines = LineLengths {
        kite_m,
        main_m: hung.main_line_m,
    };
    let counted = lines.main_m / (1.0 + 0.05 * dice.normal());
    let kite_counted = kite_m / (1.0 + 0.03 * dice.normal());
    let seen_wind = other_wind(wind, &mut dice);
    let count = 700;
    let gust = dice.path(GUST_SD, TAU, 1.0, count);
    let veer = dice.path(VEER_SD, TAU, 1.0, count);
    let yaw = dice.path(YAW_SD, YAW_TAU, 1.0, count);
    let pace = dice.path(PACE_SD, TAU, 1.0, count);
    let drift = dice.uniform(0.0, 0.514);
    let set = dice.uniform(0.0, std::f64::consts::TAU);
    let current_mps = [drift * set.sin(), drift * set.cos()];
    let range = 1000.0 * dice.uniform(0.01, 1.0).sqrt();
    let bearing = dice.uniform(0.0, std::f64::consts::TAU);
    let current_seen = [
        current_mps[0] + 0.05 * dice.normal(),
        current_mps[1] + 0.05 * dice.normal(),
    ];
    // Beliefs under which the bait skips, as the crew has said.
    let mut pool = Vec::new();
    for _ in 0..600 {
        if pool.len() == POOL {
            break;
        }
        let parameters = other_rig(&base, &mut dice);
        let mean = other_wind(seen_wind, &mut dice);
        let lines = LineLengths {
            kite_m: kite_counted * (1.0 + 0.03 * dice.normal()),
            main_m: counted * (1.0 + 0.05 * dice.normal()),
        };
        let rig = Rig::with_mesh(&parameters, Mesh::COARSE).unwrap();
        let c = conditions(mean, speed_mps, heading_rad, lines.kite_m);
        let Ok(hung) = settled_state(&rig, &c, MainLine::Out(lines.main_m), None) else {
            continue;
        };
        if !(hung.sample.immersion > 0.02 && hung.sample.immersion < DRAGGING) {
            continue;
        }
        let steps = (160.0 / LIKELY_STEP_S) as usize;
        let gusts = dice.path(GUST_SD, TAU, LIKELY_STEP_S, steps);
        let veers = dice.path(VEER_SD, TAU, LIKELY_STEP_S, steps);
        let yaws = dice.path(YAW_SD, YAW_TAU, LIKELY_STEP_S, steps);
        let paces = dice.path(PACE_SD, TAU, LIKELY_STEP_S, steps);
        let likely = Likely {
            rig,
            state: hung.state,
            lines,
            mean,
            winds: (gusts.iter().zip(&veers))
                .map(|(gust, veer)| gusty(mean, *gust, *veer))
                .collect(),
            ways: yaws
                .into_iter()
                .zip(paces.into_iter().map(f64::exp))
                .collect(),
            loss: 0.0,
            helm_z: [dice.normal(), dice.normal()],
        };
        pool.push((likely, [gusts, veers]));
    }
    if pool.len() < POOL {
        return None;
    }
    let all = (pool.iter().take(JUDGES))
        .map(|(likely, _)| likely.clone())
        .collect();
    let middle = Rig::new(&base).unwrap();
    let c = conditions(seen_wind, speed_mps, heading_rad, kite_counted);
    let hung = steady(&middle, &c, MainLine::Immersion(TRIM), None).ok()?;
    let typical = Likely {
        rig: middle,
        lines: LineLengths {
            kite_m: kite_counted,
            main_m: hung.main_line_m,
        },
        state: hung.state,
        mean: seen_wind,
        winds: vec![seen_wind; 2],
        ways: Vec::new(),
        loss: 0.0,
        helm_z: [0.0; 2],
    };
    let truth = Truth {
        state: settled_state(
            &rig,
            &conditions(wind, speed_mps, heading_rad, kite_m),
            MainLine::Out(lines.main_m),
            None,
        )
        .ok()?
        .state,
        rig,
        lines,
        wind,
        gust,
        veer,
        yaw,
        pace,
        late_s: (1.5 * dice.normal()).max(-2.0),
        rate_share: (0.15 * dice.normal()).exp(),
        current_mps,
        speed_mps,
        heading_rad,
        mark_m: [range * bearing.sin(), range * bearing.cos()],
        watcher: seed.wrapping_mul(1000).wrapping_add(case),
    };
    let seen = Seen {
        rigs: LikelyRigs {
            typical,
            all,
            trim_immersion: TRIM,
        },
        pool,
        current_mps: current_seen,
    };
    Some((truth, seen))
}

pub fn situation<'a>(
    truth: &Truth,
    seen: &'a Seen,
    rigs: &'a LikelyRigs,
    here: Flat,
    heading: f64,
    speed: f64,
    lead_s: f64,
) -> Situation<'a> {
    Situation {
        target: Target::still([truth.mark_m[0] - here[0], truth.mark_m[1] - here[1]], 1.0),
        boat: Boat {
            heading_rad: heading,
            yaw_rate_rad_s: 0.0,
            yaw_time_constant_s: 1.5,
            speed_mps: speed,
            current_mps: seen.current_mps,
        },
        rigs,
        bounds: Bounds::usual(),
        hands: Hands::default(),
        skips: SkipBand::flat(DRAGGING),
        lead_s,
    }
}
