//! Whether everything that a forecast needs is known, and what is missing.

use super::effort::Effort;
use super::lack::Lack;
use crate::rig::RigParameters;
use crate::turn::{HeadingProfile, Outlook};
use crate::vessel::{DeckNow, HullMotion, StrikeCause, VesselNow};

/// What a forecast is made from.
#[derive(Debug, Clone)]
pub(super) struct Ready {
    /// Headings within the horizon.
    pub profile: HeadingProfile,
    pub speed_mps: f64,
    pub kite_m: f64,
    pub main_m: f64,
    pub effort: Effort,
    /// How the hull moves in the waves.
    pub hull_motion: Option<HullMotion>,
}

/// Everything a forecast needs, or what is missing.
pub(super) fn ready(
    vessel: &VesselNow,
    deck: &DeckNow,
    outlook: &Outlook,
    rig: Option<&RigParameters>,
    has_air: bool,
    within: (f64, Effort),
) -> Result<Ready, Vec<(Lack, String)>> {
    let mut reasons: Vec<(Lack, String)> = vessel
        .missing
        .iter()
        .map(|missing| {
            let words = format!("{}: check the instrument and the network", missing.why);
            (Lack::Sensor, words)
        })
        .collect();
    let mut lack = |lack: Lack, words: &str| reasons.push((lack, words.to_owned()));
    let speed = vessel
        .speed_water_mps
        .as_ref()
        .or(vessel.speed_ground_mps.as_ref());
    if vessel.missing.is_empty() {
        if !has_air || vessel.true_wind.is_none() {
            lack(
                Lack::Reading,
                "no wind yet: check the wind sensor and the network",
            );
        }
        if outlook.profile.is_none() {
            lack(
                Lack::Reading,
                "no heading yet: check the compass and the network",
            );
        }
        if speed.is_none() {
            lack(
                Lack::Reading,
                "no speed yet: check the log or the position receiver",
            );
        }
    }
    if rig.is_none() {
        lack(
            Lack::Rig,
            "the rig is not set: enter kite, lines and bait in the settings",
        );
    }
    if !deck.fishing {
        let words = "fishing has stopped: say that it starts when the rig goes out";
        return Err(vec![(Lack::Stopped, words.to_owned())]);
    }
    if deck.launch.is_some() {
        let words = "a launch is under way: its steps are on the mate's page, the forecast begins \
                     when it ends";
        return Err(vec![(Lack::Launch, words.to_owned())]);
    }
    if let Some(strike) = &deck.strike {
        let words = match (strike.ended, strike.cause) {
            (None, StrikeCause::Bite) => "a fish is on: enter the lines when the bait is out again",
            (None, StrikeCause::Home) => {
                "the kite is coming home: enter the lines when the bait is out again"
            }
            (Some(_), _) => "the bait is not out: enter the lines when it is out again",
        };
        lack(Lack::Bite, words);
        return Err(reasons);
    }
    if deck.lines.kite_m.is_none() {
        lack(Lack::LineOut, "kite line out is not known: enter it");
    }
    if deck.lines.main_m.is_none() {
        lack(Lack::LineOut, "main line out is not known: enter it");
    }
    let (Some(speed), Some(profile), Some(base), Some(kite_m), Some(main_m)) = (
        speed,
        outlook.profile.clone(),
        rig,
        deck.lines.kite_m,
        deck.lines.main_m,
    ) else {
        return Err(reasons);
    };
    let least_kite = base.kite_line.clip_to_kite_m + 3.0;
    if kite_m.is_nan() || kite_m < least_kite {
        let words = "too little kite line is out: the clip would be at the rod";
        reasons.push((Lack::ShortLine, words.to_owned()));
    }
    let least_main = base.marker.above_bait_m + 3.0;
    if main_m.is_nan() || main_m < least_main {
        let words = "too little main line is out: the marker would be at the rod";
        reasons.push((Lack::ShortLine, words.to_owned()));
    }
    if !reasons.is_empty() {
        return Err(reasons);
    }
    Ok(Ready {
        profile: profile.within(within.0),
        speed_mps: speed.value.clamp(0.0, 20.0),
        kite_m,
        main_m,
        effort: within.1,
        hull_motion: vessel.hull_motion,
    })
}
