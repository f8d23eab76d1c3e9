//! What the crew's reports make of a kite with its lines, in numbers for people: how far each is from
//! what is set or measured.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::filter::{Belief, Moments};
use super::learnt::LearntNow;
use super::settings::Doubt;

/// What a number is about; its unit stands at the end. A share of 0.1 is a tenth more than what is
/// set, or than what the crew counted.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
#[schema(as = LearntAbout)]
pub enum LearntAbout {
    /// Lift of the kite.
    KiteLiftShare,
    /// Drag of the kite.
    KiteDragShare,
    /// Drag of the bait in the water.
    BaitDragShare,
    /// Diameter of the main line, by which the wind catches it.
    MainLineDiameterShare,
    /// Diameter of the kite line.
    KiteLineDiameterShare,
    /// Diameter of the marker.
    MarkerDiameterShare,
    /// Main line truly out, over the count.
    MainLineOutShare,
    /// Kite line truly out, over the count.
    KiteLineOutShare,
    /// The wind sensor reads so far clockwise of the true angle.
    WindAngleDeg,
    /// The wind sensor reads so much more than the true speed.
    WindSpeedShare,
    /// Immersion that the crew trims the bait to: 0.1 is a tenth of the bait more in the water than
    /// what is set.
    TrimImmersion,
}

/// One number: the mean of the belief.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LearntNumber {
    /// What it is about.
    pub about: LearntAbout,
    /// How far off it is.
    pub off: f64,
    /// Standard deviation of that.
    pub sd: f64,
    /// Standard deviation before anything was reported.
    pub sd_before: f64,
}

/// What was learnt of one kite up to a moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Taught {
    /// By how many reports, the last of them when.
    pub learnt: LearntNow,
    /// The numbers, in the order of [`LearntAbout`].
    pub numbers: Vec<LearntNumber>,
}

impl Taught {
    /// From the beliefs with their weights, which sum to 1.
    pub(super) fn of(
        learnt: LearntNow,
        doubt: &Doubt,
        beliefs: impl Iterator<Item = (Belief, f64)>,
    ) -> Self {
        let (beliefs, weights): (Vec<Belief>, Vec<f64>) = beliefs.unzip();
        let Moments { mean, sd } = Moments::of(&beliefs, &weights);
        let trim = (mean.trim, sd.trim);
        let (mean, sd) = (mean.traits, sd.traits);
        // Those that the rig takes as factors are normal in their logarithm.
        let factor = |about, doubt: f64, mean: f64, sd: f64| LearntNumber {
            about,
            off: (doubt * mean).exp_m1(),
            sd: doubt * sd,
            sd_before: doubt,
        };
        let share = |about, doubt: f64, mean: f64, sd: f64| LearntNumber {
            about,
            off: doubt * mean,
            sd: doubt * sd,
            sd_before: doubt,
        };
        use LearntAbout as About;
        Self {
            learnt,
            numbers: vec![
                factor(
                    About::KiteLiftShare,
                    doubt.kite_lift,
                    mean.kite_lift,
                    sd.kite_lift,
                ),
                factor(
                    About::KiteDragShare,
                    doubt.kite_drag,
                    mean.kite_drag,
                    sd.kite_drag,
                ),
                factor(
                    About::BaitDragShare,
                    doubt.wet_drag,
                    mean.wet_drag,
                    sd.wet_drag,
                ),
                factor(
                    About::MainLineDiameterShare,
                    doubt.main_line_diameter,
                    mean.main_line_diameter,
                    sd.main_line_diameter,
                ),
                factor(
                    About::KiteLineDiameterShare,
                    doubt.kite_line_diameter,
                    mean.kite_line_diameter,
                    sd.kite_line_diameter,
                ),
                factor(
                    About::MarkerDiameterShare,
                    doubt.marker_diameter,
                    mean.marker_diameter,
                    sd.marker_diameter,
                ),
                share(
                    About::MainLineOutShare,
                    doubt.main_line_out,
                    mean.main_line_out,
                    sd.main_line_out,
                ),
                share(
                    About::KiteLineOutShare,
                    doubt.kite_line_out,
                    mean.kite_line_out,
                    sd.kite_line_out,
                ),
                share(
                    About::WindAngleDeg,
                    doubt.wind_angle_deg,
                    mean.wind_angle,
                    sd.wind_angle,
                ),
                share(
                    About::WindSpeedShare,
                    doubt.wind_speed,
                    mean.wind_speed,
                    sd.wind_speed,
                ),
                share(About::TrimImmersion, doubt.trim_immersion, trim.0, trim.1),
            ],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::filter::Traits;
    use super::*;
    use crate::time::Millis;

    #[test]
    fn beliefs_become_shares_and_degrees() {
        let doubt = Doubt {
            kite_lift: 0.2,
            wind_angle_deg: 4.0,
            main_line_out: 0.05,
            ..Doubt::default()
        };
        let belief = |lift, angle, out| Belief {
            traits: Traits {
                kite_lift: lift,
                wind_angle: angle,
                main_line_out: out,
                ..Traits::default()
            },
            main_extra_m: 0.0,
            trim: 2.0,
        };
        let beliefs = [
            (belief(0.0, -1.0, 2.0), 0.5),
            (belief(1.0, -1.0, -2.0), 0.5),
        ];
        let learnt = LearntNow {
            reports: 3,
            at: Millis(7),
        };
        let taught = Taught::of(learnt, &doubt, beliefs.into_iter());
        let number = |about| taught.numbers.iter().find(|n| n.about == about).unwrap();
        // Mean 0.5 of 0.2: a factor of e^0.1.
        let lift = number(LearntAbout::KiteLiftShare);
        assert!((lift.off - 0.105_170_918).abs() < 1e-6, "{lift:?}");
        assert!(
            (lift.sd - 0.1).abs() < 1e-9 && lift.sd_before == 0.2,
            "{lift:?}"
        );
        let angle = number(LearntAbout::WindAngleDeg);
        assert!(
            (angle.off + 4.0).abs() < 1e-9 && angle.sd < 1e-9,
            "{angle:?}"
        );
        // Two of the 0.1 that are in doubt.
        let trim = number(LearntAbout::TrimImmersion);
        assert!((trim.off - 0.2).abs() < 1e-9 && trim.sd < 1e-9, "{trim:?}");
        let out = number(LearntAbout::MainLineOutShare);
        assert!(
            out.off.abs() < 1e-9 && (out.sd - 0.1).abs() < 1e-9,
            "{out:?}"
        );
    }
}
