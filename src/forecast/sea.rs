//! The sea that a forecast reckons with.
//! In: the settings, how the hull moves. Out: height, period and direction of the waves with their
//! source, and what they make of a future. Knows no lines.
//!
//! A measured sea is worked out of the hull's motion: each wave height heaves, pitches and rolls a
//! hull of ordinary size so much (`rig/hull.rs`), so the deviations of these give the height. It
//! counts before the settings, which somebody entered some time ago. Heave is the best guide; pitch
//! and roll depend more on this hull, which is not known.
//!
//! Masthead readings shake with the hull, too. That motion is faster than the quickest part of the
//! wind and counts as noise of the reading (`scales.rs`); gusts of a few seconds look the same, so
//! it gives no height.

use serde::Serialize;
use utoipa::ToSchema;

use crate::key::{Fallback, Group, Key, default_of};
use crate::rig::sea::{HullResponse, SeaMotion};
use crate::rig::{Hull, Rig, Sample, Waves};
use crate::vessel::HullMotion;

/// Keys of `[forecast.sea]`.
pub(super) const SEA: &[Key] = &[
    Key::words(
        "state",
        &["unknown", "calm", "smooth", "slight", "moderate", "rough"],
    )
    .or(Fallback::Word("unknown"))
    .about(
        "the sea in a word: calm to 0.1 m (4 in), smooth to 0.5 m (1 1/2 ft), slight to 1.25 m \
         (4 ft), moderate to 2.5 m (8 ft), rough to 4 m (13 ft), as the mean height of the highest \
         third of the waves; unknown is reckoned as flat water",
        "look at the waves against the rail or a person standing in another boat",
    )
    .on_page(Group::Sea, "Sea today"),
    Key::number("height_m", "m", 0.0, 6.0)
        .default(0.0)
        .about(
            "mean height of the highest third of the waves, if you know it; 0 goes by the word",
            "a buoy's report or the forecast of the day",
        )
        .on_page(Group::Sea, "Wave height, if known"),
    Key::number("period_s", "s", 0.0, 20.0)
        .default(0.0)
        .about(
            "time from crest to crest; 0 goes by the height (4.4 times the root of its metres)",
            "count ten crests that pass something afloat, and divide by ten",
        )
        .on_page(Group::Sea, "Time from crest to crest, if known"),
    Key::number("off_wind_deg", "degrees", -180.0, 180.0)
        .default(0.0)
        .about(
            "where the waves come from, clockwise from where the wind comes from",
            "take a bearing along the crests, and add or take 90 degrees",
        ),
];

/// What the sea is called (World Meteorological Organization, code table 3700, from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SeaWord {
    /// Nobody has said.
    Unknown,
    /// To 0.1 m.
    Calm,
    /// To 0.5 m.
    Smooth,
    /// To 1.25 m.
    Slight,
    /// To 2.5 m.
    Moderate,
    /// To 4 m.
    Rough,
}

impl SeaWord {
    /// Height in the middle of what the word covers.
    fn height_m(self) -> Option<f64> {
        match self {
            Self::Unknown => None,
            Self::Calm => Some(0.05),
            Self::Smooth => Some(0.3),
            Self::Slight => Some(0.9),
            Self::Moderate => Some(1.9),
            Self::Rough => Some(3.2),
        }
    }
}

/// The sea as the crew entered it.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SeaSettings {
    /// In a word.
    pub state: SeaWord,
    /// Significant height, 0 by the word.
    pub height_m: f64,
    /// Peak period, 0 by the height.
    pub period_s: f64,
    /// Where it comes from, from where the wind comes from.
    pub off_wind_deg: f64,
}

impl Default for SeaSettings {
    fn default() -> Self {
        Self {
            state: SeaWord::Unknown,
            height_m: default_of(SEA, "height_m"),
            period_s: default_of(SEA, "period_s"),
            off_wind_deg: default_of(SEA, "off_wind_deg"),
        }
    }
}

/// Where the height of the sea is from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SeaSource {
    /// From the heave of the boat.
    Heave,
    /// From her pitch or roll: within a half, because her hull is not known.
    Tilt,
    /// As the crew entered it.
    Settings,
}

/// The sea that a forecast reckons with.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct SeaReckoned {
    /// Significant height.
    pub height_m: f64,
    /// Peak period.
    pub period_s: f64,
    /// Where the waves come from, true.
    pub from_deg_true: f64,
    /// Where the height is from.
    pub source: SeaSource,
}

/// A lower sea is none.
const LEAST_HEIGHT_M: f64 = 0.1;
/// Period by the root of the height, s (common practice, no source).
const PERIOD_BY_ROOT: f64 = 4.4;
const PERIODS_S: (f64, f64) = (1.5, 20.0);
/// Halvings of the logarithm of these, to within a per cent.
const HALVINGS: usize = 9;
fn period_of(height_m: f64) -> f64 {
    (PERIOD_BY_ROOT * height_m.sqrt()).clamp(PERIODS_S.0, PERIODS_S.1)
}

/// Boat and wind as the sea meets them.
#[derive(Debug, Clone, Copy)]
pub struct Meeting {
    pub heading_rad: f64,
    pub speed_mps: f64,
    pub wind_from_rad: f64,
}

/// The sea to reckon with; `None` where nobody knows of one, or it is flat.
pub fn reckon(
    settings: &SeaSettings,
    motion: Option<&HullMotion>,
    meeting: Meeting,
) -> Option<SeaReckoned> {
    let from_rad = meeting.wind_from_rad + settings.off_wind_deg.to_radians();
    let told = |height_m: f64, period_s: f64, source| {
        (height_m >= LEAST_HEIGHT_M).then(|| SeaReckoned {
            height_m,
            period_s,
            from_deg_true: from_rad.to_degrees().rem_euclid(360.0),
            source,
        })
    };
    if let Some((height_m, period_s, source)) = measured(motion, meeting, from_rad) {
        return told(height_m, period_s, source);
    }
    let height_m = match settings.height_m {
        known if known > 0.0 => known,
        _ => settings.state.height_m()?,
    };
    let period_s = match settings.period_s {
        known if known > 0.0 => known.max(PERIODS_S.0),
        _ => period_of(height_m),
    };
    told(height_m, period_s, SeaSource::Settings)
}

fn measured(
    motion: Option<&HullMotion>,
    meeting: Meeting,
    from_rad: f64,
) -> Option<(f64, f64, SeaSource)> {
    let motion = motion?;
    let met_s = motion.met_every_s?;
    let one_metre = |period_s: f64| {
        let waves = Waves {
            spreading: Some(10.0),
            ..Waves::wind_sea(1.0, period_s, from_rad)
        };
        let Meeting {
            heading_rad,
            speed_mps,
            ..
        } = meeting;
        HullResponse::new(&[waves], &Hull::default(), heading_rad, speed_mps)
    };
    let timed = match (motion.heave_sd_m, motion.pitch_sd_rad) {
        (Some(_), _) => 0,
        (_, Some(_)) => 1,
        _ => 2,
    };
    // Longer waves are met more seldom; the period whose waves this hull would feel as often as told.
    let (mut shorter_s, mut longer_s) = PERIODS_S;
    for _ in 0..HALVINGS {
        let middle_s = (shorter_s * longer_s).sqrt();
        if one_metre(middle_s).met_every_s[timed] < met_s {
            shorter_s = middle_s;
        } else {
            longer_s = middle_s;
        }
    }
    let period_s = (shorter_s * longer_s).sqrt();
    let answer = one_metre(period_s);
    if let Some(heave_sd_m) = motion.heave_sd_m {
        return Some((
            heave_sd_m / answer.heave_sd_m.max(1e-3),
            period_s,
            SeaSource::Heave,
        ));
    }
    let tilts = [
        (motion.pitch_sd_rad, answer.pitch_sd_rad),
        (motion.roll_sd_rad, answer.roll_sd_rad),
    ];
    // The one that this course shows better.
    let (seen, by_metre) = tilts
        .into_iter()
        .filter_map(|(seen, by_metre)| Some((seen?, by_metre)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((seen / by_metre.max(1e-4), period_s, SeaSource::Tilt))
}

/// Where the bait skips: lower than where it flies, and higher than where it drags.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkipBand {
    /// Clearance above the mean level from which it flies, m; 0 on flat water.
    pub lift_off_m: f64,
    /// Immersion on flat water from which it drags.
    pub dragging_immersion: f64,
}

impl SkipBand {
    /// On flat water.
    #[must_use]
    pub fn flat(dragging_immersion: f64) -> Self {
        Self {
            lift_off_m: 0.0,
            dragging_immersion,
        }
    }

    /// In this sea.
    #[must_use]
    pub fn in_sea(sea: &SeaReckoned, rig: &Rig, dragging_immersion: f64) -> Self {
        // The border of flying does not depend on how the boat meets the waves.
        let meeting = Meeting {
            heading_rad: 0.0,
            speed_mps: 0.0,
            wind_from_rad: 0.0,
        };
        SeaAhead::new(sea, rig, meeting).skip_band(Self::flat(dragging_immersion))
    }

    /// Whether the water is flat.
    #[must_use]
    pub fn is_flat(&self) -> bool {
        self.lift_off_m <= 0.0
    }

    /// Whether a bait with this clearance flies: it is out of the water, and most waves miss it.
    #[must_use]
    pub fn flies(&self, immersion: f64, clear_m: f64) -> bool {
        immersion <= 0.0 && (self.is_flat() || clear_m >= self.lift_off_m)
    }

    /// Whether it skips.
    #[must_use]
    pub fn holds(&self, immersion: f64, clear_m: f64) -> bool {
        !self.flies(immersion, clear_m) && !self.drags(immersion)
    }

    /// Whether it drags.
    #[must_use]
    pub fn drags(&self, immersion: f64) -> bool {
        immersion >= self.dragging_immersion
    }
}

/// What the sea makes of the futures: loads that one moment in a hundred exceeds in place of those
/// on flat water, and the borders of the bait's states in the windows that waves need.
#[derive(Debug, Clone, Copy)]
pub struct SeaAhead(SeaMotion);

impl SeaAhead {
    /// For a boat on this heading at this speed: later headings of a turn meet the waves otherwise,
    /// which changes the loads by less than their spread from hull to hull.
    pub fn new(sea: &SeaReckoned, rig: &Rig, meeting: Meeting) -> Self {
        let waves = [Waves::wind_sea(
            sea.height_m,
            sea.period_s,
            sea.from_deg_true.to_radians(),
        )];
        let (heading_rad, speed_mps) = (meeting.heading_rad, meeting.speed_mps);
        Self(SeaMotion::new(
            &waves,
            &Hull::default(),
            rig,
            heading_rad,
            speed_mps,
        ))
    }

    /// A sample with the loads of waves in it.
    pub fn loaded(&self, rig: &Rig, flat: &Sample) -> Sample {
        let spread = self.0.spread(rig, flat);
        let share = |peak: f64, mean: f64| if mean > 0.0 { peak / mean } else { 1.0 };
        let main = share(spread.main_line_p99_n, flat.main_line_tension_n);
        Sample {
            kite_line_tension_n: spread.kite_line_p99_n,
            kite_line_tension_above_clip_n: flat.kite_line_tension_above_clip_n
                * share(spread.kite_line_p99_n, flat.kite_line_tension_n),
            main_line_tension_n: spread.main_line_p99_n,
            main_line_tension_at_ring_n: flat.main_line_tension_at_ring_n * main,
            ring_load_n: flat.ring_load_n * main,
            ..flat.clone()
        }
    }

    /// Where half of the windows fly or drag.
    pub fn skip_band(&self, flat: SkipBand) -> SkipBand {
        SkipBand {
            lift_off_m: self.0.lift_off_m(),
            dragging_immersion: flat.dragging_immersion.max(crate::rig::sea::DRAG_CENTRE),
        }
    }

    /// How long the bait must stay in a state, s, at least as long as on flat water.
    pub fn event_s(&self, flat_s: f64) -> f64 {
        flat_s.max(self.0.window_s())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{BoatMotion, Ride, Seaway};

    const MEETING: Meeting = Meeting {
        heading_rad: 1.0,
        speed_mps: 3.0,
        wind_from_rad: 0.4,
    };

    fn nothing() -> SeaSettings {
        SeaSettings::default()
    }

    /// What sensors of a boat in these waves tell in five minutes, mean of four seas: with all of
    /// them, and with pitch and roll alone.
    fn sensed(waves: &[Waves], meeting: Meeting) -> (HullMotion, HullMotion) {
        let boat = |_| BoatMotion {
            heading_rad: meeting.heading_rad,
            yaw_rate_rad_s: 0.0,
            speed_mps: meeting.speed_mps,
        };
        let (mut squares, mut crossings) = ([0.0; 3], [0_u32; 2]);
        const STEPS: u32 = 6000;
        for seed in 0..4 {
            let sea = Seaway::new(waves, seed);
            let ride = Ride::new(sea, Hull::default(), false, boat, -40.0, 300.0);
            let mut last = [0.0; 2];
            for i in 0..STEPS {
                let pose = ride.pose(0.05 * f64::from(i));
                for (sum, x) in
                    squares
                        .iter_mut()
                        .zip([pose.heave_m, pose.pitch_rad, pose.roll_rad])
                {
                    *sum += x * x;
                }
                let now = [pose.heave_m, pose.pitch_rad];
                for (k, crossings) in crossings.iter_mut().enumerate() {
                    *crossings += u32::from(last[k] < 0.0 && now[k] >= 0.0);
                }
                last = now;
            }
        }
        let [heave, pitch, roll] = squares.map(|sum| (sum / f64::from(4 * STEPS)).sqrt());
        let all = HullMotion {
            window_s: 300.0,
            heave_sd_m: Some(heave),
            pitch_sd_rad: Some(pitch),
            roll_sd_rad: Some(roll),
            met_every_s: Some(1200.0 / f64::from(crossings[0])),
        };
        let tilts = HullMotion {
            heave_sd_m: None,
            met_every_s: Some(1200.0 / f64::from(crossings[1])),
            ..all
        };
        (all, tilts)
    }

    #[test]
    fn the_sea_is_read_from_the_boat_that_rides_it() {
        for (height_m, off_bow_rad) in [(0.6, 0.2), (1.0, 1.2), (1.4, 2.9), (1.4, -0.8)] {
            let meeting = Meeting {
                wind_from_rad: MEETING.heading_rad + off_bow_rad,
                ..MEETING
            };
            let waves = [Waves {
                spreading: Some(10.0),
                ..Waves::wind_sea(height_m, period_of(height_m), meeting.wind_from_rad)
            }];
            let (motion, tilted) = sensed(&waves, meeting);
            let sea = reckon(&nothing(), Some(&motion), meeting).unwrap();
            assert_eq!(sea.source, SeaSource::Heave);
            let ratio = sea.height_m / height_m;
            assert!((0.75..1.3).contains(&ratio), "{height_m} m: {sea:?}");
            let period = sea.period_s / period_of(height_m);
            assert!((0.75..1.3).contains(&period), "{height_m} m: {sea:?}");
            let sea = reckon(&nothing(), Some(&tilted), meeting).unwrap();
            assert_eq!(sea.source, SeaSource::Tilt);
            let ratio = sea.height_m / height_m;
            assert!((0.6..1.6).contains(&ratio), "{height_m} m: {sea:?}");
        }
    }

    #[test]
    fn waves_reach_a_bait_that_flies_on_flat_water() {
        let rig = Rig::new(&crate::rig::RigParameters::default()).unwrap();
        let flat = SkipBand::flat(0.9);
        assert!(flat.flies(0.0, 0.05) && flat.holds(0.2, -0.05) && flat.drags(0.95));
        let sea = SeaReckoned {
            height_m: 1.0,
            period_s: period_of(1.0),
            from_deg_true: 20.0,
            source: SeaSource::Settings,
        };
        let band = SkipBand::in_sea(&sea, &rig, 0.9);
        // Own judgement: within the amplitude of the highest third, half a metre.
        assert!((0.05..0.5).contains(&band.lift_off_m), "{band:?}");
        assert!(band.holds(0.0, 0.9 * band.lift_off_m) && band.flies(0.0, 1.1 * band.lift_off_m));
        let meeting = SeaAhead::new(&sea, &rig, MEETING);
        assert_eq!(meeting.skip_band(flat), band, "whatever the course");
    }

    #[test]
    fn a_number_counts_before_a_word_and_nothing_is_flat() {
        let word = SeaSettings {
            state: SeaWord::Slight,
            ..nothing()
        };
        let sea = reckon(&word, None, MEETING).unwrap();
        assert_eq!(sea.height_m, 0.9);
        assert!((sea.period_s - 4.4 * 0.9_f64.sqrt()).abs() < 1e-9);
        assert!((sea.from_deg_true - 0.4_f64.to_degrees()).abs() < 1e-9);
        let number = SeaSettings {
            height_m: 1.3,
            period_s: 6.0,
            off_wind_deg: -90.0,
            ..word
        };
        let sea = reckon(&number, None, MEETING).unwrap();
        assert_eq!((sea.height_m, sea.period_s), (1.3, 6.0));
        assert!((sea.from_deg_true - (360.0 + 0.4_f64.to_degrees() - 90.0)).abs() < 1e-9);
        assert_eq!(reckon(&nothing(), None, MEETING), None);
        let calm = SeaSettings {
            state: SeaWord::Calm,
            ..nothing()
        };
        assert_eq!(reckon(&calm, None, MEETING), None);
    }
}
