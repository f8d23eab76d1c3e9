//! What a particle holds true: the errors of rig, air and count, as numbers of prior standard
//! deviations, and what follows from them for rig, sensor and line.

use serde::{Deserialize, Serialize};

use crate::forecast::air::SensorError;
use crate::forecast::draws::Draws;
use crate::forecast::settings::{Doubt, ForecastSettings, TRIM_RANGE};
use crate::rig::{LineLengths, RigParameters};

/// Power-law exponent of the wind profile over open sea: 0.11, near-neutral (Hsu, Meindl and
/// Gilhousen 1994, J. Appl. Meteor. 33, 757-765; the value from memory).
const USUAL_EXPONENT: f64 = 0.11;

/// Shrinkage of the kernel: a resampled belief is this share of itself plus the rest of the mean.
const KEEP: f64 = 0.96;

/// The uncertain numbers, each in standard deviations of the field of the same name in [`Doubt`].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Traits {
    pub kite_lift: f64,
    pub kite_drag: f64,
    pub wind_exponent: f64,
    pub wet_drag: f64,
    pub main_line_diameter: f64,
    pub kite_line_diameter: f64,
    pub marker_diameter: f64,
    pub main_line_out: f64,
    pub kite_line_out: f64,
    pub wind_angle: f64,
    pub wind_speed: f64,
}

/// Number of traits.
pub const TRAITS: usize = 11;

impl Traits {
    /// In the order in which they are drawn and kept.
    pub fn from_array(of: [f64; TRAITS]) -> Self {
        let [
            kite_lift,
            kite_drag,
            wind_exponent,
            wet_drag,
            main_line_diameter,
            kite_line_diameter,
            marker_diameter,
            main_line_out,
            kite_line_out,
            wind_angle,
            wind_speed,
        ] = of;
        Self {
            kite_lift,
            kite_drag,
            wind_exponent,
            wet_drag,
            main_line_diameter,
            kite_line_diameter,
            marker_diameter,
            main_line_out,
            kite_line_out,
            wind_angle,
            wind_speed,
        }
    }

    /// How far apart two are, in standard deviations of the settings' doubts.
    pub fn distance(self, other: Self) -> f64 {
        let (own, other) = (self.to_array(), other.to_array());
        let squares = own.iter().zip(other).map(|(a, b)| (a - b) * (a - b));
        squares.sum::<f64>().sqrt()
    }

    /// In the same order.
    pub fn to_array(self) -> [f64; TRAITS] {
        [
            self.kite_lift,
            self.kite_drag,
            self.wind_exponent,
            self.wet_drag,
            self.main_line_diameter,
            self.kite_line_diameter,
            self.marker_diameter,
            self.main_line_out,
            self.kite_line_out,
            self.wind_angle,
            self.wind_speed,
        ]
    }
}

/// One belief.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Belief {
    pub traits: Traits,
    /// Main line out beyond what count and traits give, metres: errors of corrections, and
    /// adjustments after contradicting reports.
    pub main_extra_m: f64,
    /// The crew's trim, in standard deviations of `trim_immersion`. It belongs to the crew of the day
    /// and is not kept between sessions.
    pub trim: f64,
}

/// A belief as it is kept between sessions, with its weight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptBelief {
    pub(in crate::forecast) weight: f64,
    /// As numbers of standard deviations of [`Doubt`].
    pub(in crate::forecast) traits: [f64; TRAITS],
}

/// Line out by the crew's count now, and at its last full reading: only the error of that reading
/// is a share of the whole; each correction has its own error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    pub kite_m: f64,
    pub main_m: f64,
    pub kite_told_m: f64,
    pub main_told_m: f64,
}

impl Counted {
    /// A full reading.
    pub fn read(kite_m: f64, main_m: f64) -> Self {
        Self {
            kite_m,
            main_m,
            kite_told_m: kite_m,
            main_told_m: main_m,
        }
    }

    /// So much line is out now; the last full reading stays.
    pub fn moved_to(self, now: Self) -> Self {
        Self {
            kite_m: now.kite_m,
            main_m: now.main_m,
            ..self
        }
    }
}

impl Belief {
    /// The prior: a Latin hypercube over all traits and the trim.
    pub fn prior(count: usize, draws: &mut Draws) -> Vec<Self> {
        let traits: [Vec<f64>; TRAITS] = std::array::from_fn(|_| draws.stratified_normal(count));
        let trims = draws.stratified_normal(count);
        (0..count)
            .map(|i| Self {
                traits: Traits::from_array(std::array::from_fn(|t| traits[t][i])),
                main_extra_m: 0.0,
                trim: trims[i],
            })
            .collect()
    }

    /// The rig of this belief.
    pub fn rig(&self, base: &RigParameters, doubt: &Doubt) -> RigParameters {
        let own = &self.traits;
        let mut p = base.clone();
        let lift = (doubt.kite_lift * own.kite_lift).exp();
        let drag = (doubt.kite_drag * own.kite_drag).exp();
        p.kite.cl *= lift;
        p.kite.cd *= drag;
        for point in &mut p.kite.trim {
            point.cl *= lift;
            point.cd *= drag;
        }
        p.bait.wet_drag_area_m2 *= (doubt.wet_drag * own.wet_drag).exp();
        p.main_line.diameter_m *= (doubt.main_line_diameter * own.main_line_diameter).exp();
        p.kite_line.diameter_m *= (doubt.kite_line_diameter * own.kite_line_diameter).exp();
        p.marker.diameter_m *= (doubt.marker_diameter * own.marker_diameter).exp();
        p
    }

    /// Errors of the masthead sensor according to this belief.
    pub fn sensor(&self, doubt: &Doubt) -> SensorError {
        let own = &self.traits;
        SensorError {
            exponent: (USUAL_EXPONENT + doubt.wind_exponent * own.wind_exponent).clamp(0.0, 0.4),
            angle_rad: (doubt.wind_angle_deg * own.wind_angle).to_radians(),
            speed: doubt.wind_speed * own.wind_speed,
        }
    }

    /// Immersion that the crew trims the bait to, according to this belief.
    pub fn trim_immersion(&self, settings: &ForecastSettings) -> f64 {
        let off = settings.doubt.trim_immersion * self.trim;
        (settings.trim_immersion + off).clamp(TRIM_RANGE.0, TRIM_RANGE.1)
    }

    /// True line out for a count, according to this belief.
    pub fn lines(&self, counted: Counted, doubt: &Doubt, base: &RigParameters) -> LineLengths {
        let own = &self.traits;
        let misread_m = counted.main_told_m * doubt.main_line_out * own.main_line_out;
        let main = counted.main_m + misread_m + self.main_extra_m;
        let kite = counted.kite_m + counted.kite_told_m * doubt.kite_line_out * own.kite_line_out;
        LineLengths {
            kite_m: kite.max(base.kite_line.clip_to_kite_m + 3.0),
            main_m: main.max(base.marker.above_bait_m + 3.0),
        }
    }
}

/// Weighted mean and standard deviation of beliefs.
#[derive(Debug, Clone, Copy)]
pub struct Moments {
    pub mean: Belief,
    pub sd: Belief,
}

impl Moments {
    /// Of beliefs and their normalised weights.
    pub fn of(beliefs: &[Belief], weights: &[f64]) -> Self {
        let weighted = |of: &dyn Fn(&Belief) -> f64| {
            let mean: f64 = beliefs.iter().zip(weights).map(|(b, w)| w * of(b)).sum();
            let variance: f64 = beliefs
                .iter()
                .zip(weights)
                .map(|(b, w)| w * (of(b) - mean).powi(2))
                .sum();
            (mean, variance.sqrt())
        };
        let traits: [(f64, f64); TRAITS] =
            std::array::from_fn(|t| weighted(&|b| b.traits.to_array()[t]));
        let extra_m = weighted(&|b| b.main_extra_m);
        let trim = weighted(&|b| b.trim);
        let part = |of: fn((f64, f64)) -> f64| Belief {
            traits: Traits::from_array(traits.map(of)),
            main_extra_m: of(extra_m),
            trim: of(trim),
        };
        Self {
            mean: part(|(mean, _)| mean),
            sd: part(|(_, sd)| sd),
        }
    }

    /// A copy shrunk toward the mean, with kernel noise that restores the variance (Liu and West
    /// 2001, from memory).
    pub fn jitter(&self, belief: &Belief, draws: &mut Draws) -> Belief {
        let widen = (1.0 - KEEP * KEEP).sqrt();
        let mut moved = |value: f64, mean: f64, sd: f64| {
            KEEP * value + (1.0 - KEEP) * mean + widen * sd * draws.normal()
        };
        let (own, mean, sd) = (
            belief.traits.to_array(),
            self.mean.traits.to_array(),
            self.sd.traits.to_array(),
        );
        Belief {
            traits: Traits::from_array(std::array::from_fn(|t| {
                moved(own[t], mean[t], sd[t].max(0.1))
            })),
            main_extra_m: moved(
                belief.main_extra_m,
                self.mean.main_extra_m,
                self.sd.main_extra_m.max(0.5),
            ),
            trim: moved(belief.trim, self.mean.trim, self.sd.trim.max(0.1)),
        }
    }
}
