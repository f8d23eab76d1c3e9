//! Whether everything that a forecast needs is known, and what is missing.

use super::Forecaster;
use super::said::long_ago;
use crate::forecast::effort::Effort;
use crate::time::Millis;
use crate::turn::Outlook;
use crate::vessel::{DeckNow, VesselNow};

#[derive(Debug, Clone)]
pub(super) struct Ready {
    pub profile: crate::turn::HeadingProfile,
    pub speed_mps: f64,
    pub kite_m: f64,
    pub main_m: f64,
    pub effort: Effort,
}

impl Forecaster {
    /// Everything a forecast needs, or what is missing.
    pub(super) fn ready(
        &self,
        at: Millis,
        vessel: &VesselNow,
        deck: &DeckNow,
        outlook: &Outlook,
        effort: Effort,
    ) -> Result<Ready, Vec<String>> {
        let mut reasons: Vec<String> = vessel
            .missing
            .iter()
            .map(|missing| format!("{}: check the instrument and the network", missing.why))
            .collect();
        let speed = vessel
            .speed_water_mps
            .as_ref()
            .or(vessel.speed_ground_mps.as_ref());
        if reasons.is_empty() {
            if !self.air.known() || vessel.true_wind.is_none() {
                reasons.push("no wind yet: check the wind sensor and the network".to_owned());
            }
            if outlook.profile.is_none() {
                reasons.push("no heading yet: check the compass and the network".to_owned());
            }
            if speed.is_none() {
                reasons.push("no speed yet: check the log or the position receiver".to_owned());
            }
        }
        if self.base.is_none() {
            reasons
                .push("the rig is not set: enter kite, lines and bait in the settings".to_owned());
        }
        if !deck.fishing {
            return Err(vec![
                "fishing has stopped: say that it starts when the rig goes out".to_owned(),
            ]);
        }
        if deck.lines.kite_m.is_none() {
            reasons.push("kite line out is not known: enter it".to_owned());
        }
        if deck.lines.main_m.is_none() {
            reasons.push("main line out is not known: enter it".to_owned());
        }
        if let Some(bite) = deck.bite_at {
            reasons.push(format!(
                "a fish took the bait {}: enter the lines when the bait is out again",
                long_ago(Some(at.seconds_since(bite)))
            ));
        }
        let (Some(speed), Some(profile), Some(base), Some(kite_m), Some(main_m)) = (
            speed,
            outlook.profile.clone(),
            &self.base,
            deck.lines.kite_m,
            deck.lines.main_m,
        ) else {
            return Err(reasons);
        };
        let least_kite = base.kite_line.clip_to_kite_m + 3.0;
        if kite_m.is_nan() || kite_m < least_kite {
            reasons.push(format!(
                "kite line out is {kite_m} m, less than from clip to kite ({least_kite:.0} m and more is needed)"
            ));
        }
        let least_main = base.marker.above_bait_m + 3.0;
        if main_m.is_nan() || main_m < least_main {
            reasons.push(format!(
                "main line out is {main_m} m ({least_main:.0} m and more is needed)"
            ));
        }
        if !reasons.is_empty() {
            return Err(reasons);
        }
        Ok(Ready {
            profile: profile.within(self.settings.horizon_s),
            speed_mps: speed.value.clamp(0.0, 20.0),
            kite_m,
            main_m,
            effort,
        })
    }
}
