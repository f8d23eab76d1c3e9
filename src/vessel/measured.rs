//! What the believed instruments have measured, with the crew's corrections taken out again.
//!
//! In: the channels of the vessel. Out: [`Measured`], for whoever looks for the errors of instruments.
//! Nothing stands in for anything here, and nothing is worked out from another instrument.

use super::boat::Vessel;
use super::corrections::CompassCurve;
use super::now::{ApparentWind, Reading};
use super::source::{Fitness, Source};
use crate::angles::wrap_positive;
use crate::decode::{HeadingObservation, Talker};
use crate::time::Millis;
use crate::units::in_radians;

/// A measured value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard<T> {
    /// The value, SI.
    pub value: T,
    /// When it came.
    pub at: Millis,
    /// Who sends it.
    pub instrument: HeardFrom,
}

/// Who sends a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeardFrom {
    /// Talker of its sentences.
    pub talker: Talker,
    /// Unique among the sources of the quantity.
    pub source: u32,
}

/// Where the bow points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredHeading {
    /// True heading, 0..2 pi.
    pub true_rad: f64,
    /// The heading as the compass sends it.
    pub shown_rad: f64,
}

/// What the instruments measure, uncorrected. `None` where nothing is heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The moment it describes.
    pub at: Millis,
    /// Heading.
    pub heading: Option<Heard<MeasuredHeading>>,
    /// Apparent wind at the sensor.
    pub wind: Option<Heard<ApparentWind>>,
    /// Speed through the water along the keel.
    pub log_mps: Option<Heard<f64>>,
    /// Motion over the ground, east and north.
    pub ground_mps: Option<Heard<[f64; 2]>>,
    /// Rate of turn, + to starboard.
    pub rate_of_turn_rad_s: Option<Heard<f64>>,
}

impl Vessel {
    /// What the believed instruments measure. Values from before the last change of a correction are
    /// left out: how they were corrected is not known any more.
    #[must_use]
    pub fn measured(&self, at: Millis) -> Measured {
        let lately = |at: Millis| self.corrected_since.is_none_or(|since| at > since);
        let rate = self.rate_of_turn.pick(at).filter(|s| lately(s.at));
        let log = self.live_log(at).filter(|s| lately(s.at));
        let wind = self.wind.pick(at).filter(|s| lately(s.at));
        Measured {
            at,
            heading: self
                .measured_heading(at)
                .filter(|heading| lately(heading.at)),
            wind: wind.and_then(|source| {
                let (turn_rad, factor) = self.corrections.wind_of(source.talker());
                let value = ApparentWind {
                    angle_rad: wrap_positive(source.value.angle_rad - turn_rad),
                    speed_mps: source.value.speed_mps / factor,
                };
                heard(source, value)
            }),
            log_mps: log.and_then(|source| {
                let factor = self.corrections.log_of(source.talker());
                heard(source, source.value.ahead_mps / factor)
            }),
            ground_mps: self.measured_ground(at),
            rate_of_turn_rad_s: rate.and_then(|source| {
                let by = self.corrections.rate_of(source.talker());
                heard(source, source.value - by)
            }),
        }
    }

    fn measured_heading(&self, at: Millis) -> Option<Heard<MeasuredHeading>> {
        let (id, believed) = self.believed_heading(at)?;
        let source = self.heading.pick(at).filter(|source| source.id == id)?;
        let corrected_rad = in_radians(match source.value {
            HeadingObservation::True { heading } | HeadingObservation::Magnetic { heading } => {
                heading
            }
            HeadingObservation::Compass { sensor, .. } => sensor,
        });
        let curve: CompassCurve = self.corrections.compass_of(source.talker());
        let shown_rad = curve.before(corrected_rad);
        let value = MeasuredHeading {
            true_rad: wrap_positive(believed.value - curve.at(shown_rad)),
            shown_rad: wrap_positive(shown_rad),
        };
        heard(source, value)
    }

    fn measured_ground(&self, at: Millis) -> Option<Heard<[f64; 2]>> {
        let speed = self.speed_ground.pick(at)?;
        let course: Reading<f64> = self.course_true(at)?;
        let (east, north) = course.value.sin_cos();
        let moving = heard(speed, [speed.value * east, speed.value * north])?;
        Some(Heard {
            at: moving.at.min(course.at),
            ..moving
        })
    }
}

fn heard<S: Fitness, T>(source: &Source<S>, value: T) -> Option<Heard<T>> {
    Some(Heard {
        value,
        at: source.at,
        instrument: HeardFrom {
            talker: source.talker()?,
            source: source.id,
        },
    })
}
