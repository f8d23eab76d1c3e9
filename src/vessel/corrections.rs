//! Corrections that the crew has put on instruments.
//!
//! In: observations as they are sent. Out: the same, corrected, before the vessel believes them. A
//! correction is for one talker: another instrument has other errors. Wind that an instrument has
//! worked out itself is left alone: nobody knows what it was made of.

use crate::decode::{CorrectBy, Correctable, Correction, HeadingObservation, Observation, Talker};
use crate::doubt::Instrument;
use crate::time::Millis;
use crate::units::{Angle, degrees_per_second, in_radians, in_radians_per_second, radians};

/// What a compass lacks at each heading: `offset + sine * sin(h) + cosine * cos(h)`, where `h` is the
/// heading as it is sent (the first terms of the deviation that magnetism of the hull causes; Bowditch,
/// The American Practical Navigator, coefficients A, B, C).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CompassCurve {
    /// Whatever the heading.
    pub offset_rad: f64,
    /// With the sine of the heading.
    pub sine_rad: f64,
    /// With its cosine.
    pub cosine_rad: f64,
}

impl CompassCurve {
    /// What is added to this heading.
    #[must_use]
    pub fn at(&self, shown_rad: f64) -> f64 {
        let (sin, cos) = shown_rad.sin_cos();
        self.offset_rad + self.sine_rad * sin + self.cosine_rad * cos
    }

    /// The heading that becomes this one when it is corrected.
    pub(super) fn before(&self, corrected_rad: f64) -> f64 {
        // The curve is far flatter than 1, so that this contracts.
        (0..20).fold(corrected_rad, |shown, _| corrected_rad - self.at(shown))
    }
}

/// A correction that is in force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corrected<T> {
    /// Talker that it is for.
    pub talker: Talker,
    /// What is added, or by what is multiplied.
    pub by: T,
    /// When the crew put it on.
    pub at: Millis,
}

/// The corrections in force.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Corrections {
    /// Added to the angle of the apparent wind, rad.
    pub wind_angle_rad: Option<Corrected<f64>>,
    /// Multiplies the speed of the apparent wind.
    pub wind_speed: Option<Corrected<f64>>,
    /// Multiplies the speed through the water.
    pub log: Option<Corrected<f64>>,
    /// Added to the heading.
    pub compass: Option<Corrected<CompassCurve>>,
    /// Added to the rate of turn, rad/s.
    pub rate_of_turn_rad_s: Option<Corrected<f64>>,
}

/// What the name of a source is followed by when what it sends is corrected.
pub(super) const CORRECTED: &str = ", corrected";

/// What of it is for this talker.
fn of<T: Copy>(corrected: Option<Corrected<T>>, talker: Option<Talker>) -> Option<T> {
    corrected.filter(|c| Some(c.talker) == talker).map(|c| c.by)
}

impl Corrections {
    /// Puts one on, in place of an earlier one.
    pub(super) fn put_on(&mut self, at: Millis, correction: Correction) {
        let talker = correction.talker;
        let plain = |by: f64| Some(Corrected { talker, by, at });
        match correction.by {
            CorrectBy::WindAngle(angle) => self.wind_angle_rad = plain(in_radians(angle)),
            CorrectBy::WindSpeed(factor) => self.wind_speed = plain(factor),
            CorrectBy::Log(factor) => self.log = plain(factor),
            CorrectBy::Compass {
                offset,
                sine,
                cosine,
            } => {
                let by = CompassCurve {
                    offset_rad: in_radians(offset),
                    sine_rad: in_radians(sine),
                    cosine_rad: in_radians(cosine),
                };
                self.compass = Some(Corrected { talker, by, at });
            }
            CorrectBy::RateOfTurn(rate) => {
                self.rate_of_turn_rad_s = plain(in_radians_per_second(rate));
            }
        }
    }

    /// Takes one off.
    pub(super) fn take_off(&mut self, what: Correctable) {
        match what {
            Correctable::WindAngle => self.wind_angle_rad = None,
            Correctable::WindSpeed => self.wind_speed = None,
            Correctable::Log => self.log = None,
            Correctable::Compass => self.compass = None,
            Correctable::RateOfTurn => self.rate_of_turn_rad_s = None,
        }
    }

    /// Each with the moment at which it was put on, as the crew would say it.
    #[must_use]
    pub fn said(&self) -> Vec<(Millis, Correction)> {
        let plain = |corrected: Option<Corrected<f64>>, by: fn(f64) -> CorrectBy| {
            corrected.map(|c| {
                let talker = c.talker;
                (
                    c.at,
                    Correction {
                        talker,
                        by: by(c.by),
                    },
                )
            })
        };
        let compass = self.compass.map(|c| {
            let by = CorrectBy::Compass {
                offset: radians(c.by.offset_rad),
                sine: radians(c.by.sine_rad),
                cosine: radians(c.by.cosine_rad),
            };
            let talker = c.talker;
            (c.at, Correction { talker, by })
        });
        [
            plain(self.wind_angle_rad, |rad| {
                CorrectBy::WindAngle(radians(rad))
            }),
            plain(self.wind_speed, CorrectBy::WindSpeed),
            plain(self.log, CorrectBy::Log),
            compass,
            plain(self.rate_of_turn_rad_s, |rate| {
                CorrectBy::RateOfTurn(degrees_per_second(rate.to_degrees()))
            }),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// The observation corrected; `None` when nothing of it is to be.
    pub(super) fn corrected(&self, talker: &str, observation: &Observation) -> Option<Observation> {
        if *self == Self::default() {
            return None;
        }
        let talker = Talker::new(talker);
        match observation {
            Observation::ApparentWind { angle, speed } => {
                let turn = of(self.wind_angle_rad, talker);
                let factor = of(self.wind_speed, talker);
                (turn.is_some() || factor.is_some()).then(|| Observation::ApparentWind {
                    angle: angle.map(|angle| angle + radians(turn.unwrap_or(0.0))),
                    speed: speed.map(|speed| speed * factor.unwrap_or(1.0)),
                })
            }
            Observation::WaterSpeed {
                longitudinal,
                transverse,
            } => of(self.log, talker).map(|factor| Observation::WaterSpeed {
                longitudinal: *longitudinal * factor,
                transverse: transverse.map(|speed| speed * factor),
            }),
            Observation::Heading(heading) => {
                let curve = of(self.compass, talker)?;
                let with = |shown: Angle| shown + radians(curve.at(in_radians(shown)));
                Some(Observation::Heading(match *heading {
                    HeadingObservation::True { heading } => HeadingObservation::True {
                        heading: with(heading),
                    },
                    HeadingObservation::Magnetic { heading } => HeadingObservation::Magnetic {
                        heading: with(heading),
                    },
                    HeadingObservation::Compass {
                        sensor,
                        deviation,
                        variation,
                    } => HeadingObservation::Compass {
                        sensor: with(sensor),
                        deviation,
                        variation,
                    },
                }))
            }
            Observation::RateOfTurn(rate) => of(self.rate_of_turn_rad_s, talker)
                .map(|by| Observation::RateOfTurn(*rate + degrees_per_second(by.to_degrees()))),
            _ => None,
        }
    }

    /// Whether what this talker sends of it is corrected.
    pub(super) fn touch(&self, instrument: Instrument, talker: Option<Talker>) -> bool {
        match instrument {
            Instrument::Wind => {
                of(self.wind_angle_rad, talker).is_some() || of(self.wind_speed, talker).is_some()
            }
            Instrument::Heading => of(self.compass, talker).is_some(),
            Instrument::RateOfTurn => of(self.rate_of_turn_rad_s, talker).is_some(),
            Instrument::Log => of(self.log, talker).is_some(),
            Instrument::GroundSpeed
            | Instrument::Course
            | Instrument::Position
            | Instrument::Clock
            | Instrument::Variation => false,
        }
    }

    /// By what angle and factor the wind of this talker is corrected.
    pub(super) fn wind_of(&self, talker: Option<Talker>) -> (f64, f64) {
        (
            of(self.wind_angle_rad, talker).unwrap_or(0.0),
            of(self.wind_speed, talker).unwrap_or(1.0),
        )
    }

    /// By what factor the log of this talker is corrected.
    pub(super) fn log_of(&self, talker: Option<Talker>) -> f64 {
        of(self.log, talker).unwrap_or(1.0)
    }

    /// By what curve the compass of this talker is corrected.
    pub(super) fn compass_of(&self, talker: Option<Talker>) -> CompassCurve {
        of(self.compass, talker).unwrap_or_default()
    }

    /// What is added to the rate of turn of this talker.
    pub(super) fn rate_of(&self, talker: Option<Talker>) -> f64 {
        of(self.rate_of_turn_rad_s, talker).unwrap_or(0.0)
    }
}
