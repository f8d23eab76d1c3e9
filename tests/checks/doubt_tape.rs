//! Recorded logs as observations, and lies laid over them.

use std::path::Path;

use skimwatch::angles::wrap_signed;
use skimwatch::decode::{Decoder, HeadingObservation, Observation};
use skimwatch::drive::{Dated, DatedLine, LogLine};
use skimwatch::feed::{ChecksumPolicy, FrameSettings};
use skimwatch::record::LogReader;
use skimwatch::time::Millis;
use skimwatch::units::{
    degrees, degrees_per_second, in_degrees, in_degrees_per_second, in_metres_per_second,
    metres_per_second,
};
use skimwatch::vessel::{Sender, Vessel, VesselNow, VesselSettings};

/// One observation of a log.
#[derive(Clone)]
pub struct Heard {
    pub at: Millis,
    pub feed: String,
    pub talker: String,
    pub kind: &'static str,
    pub said: Observation,
    /// Said by another sender under the same name.
    pub copy: bool,
}

/// A whole log, in parts within which no time goes back.
pub fn read(path: &Path) -> Vec<Vec<Heard>> {
    let settings = FrameSettings {
        checksum: ChecksumPolicy::IfPresent,
        ..FrameSettings::default()
    };
    let lines = LogReader::open(path, settings)
        .unwrap()
        .map(|item| LogLine::from_log(item.unwrap(), &"log".into()));
    let mut decoder = Decoder::new();
    let mut parts = vec![Vec::new()];
    for line in Dated::new(lines) {
        match line {
            DatedLine::Part(_) => parts.push(Vec::new()),
            DatedLine::Refused { .. } => {}
            DatedLine::Sentence { at, feed, text } => {
                let Ok(decoded) = decoder.decode(&text) else {
                    continue;
                };
                let talker = decoded.talker.as_str().to_owned();
                let part = parts.last_mut().unwrap();
                part.extend(decoded.observations.iter().map(|said| Heard {
                    at,
                    feed: feed.to_string(),
                    talker: talker.clone(),
                    kind: decoded.kind,
                    said: said.clone(),
                    copy: false,
                }));
            }
        }
    }
    parts
}

/// What happened to the suspicions of a vessel, second by second.
pub fn follow(heard: &[Heard], mut look: impl FnMut(&VesselNow)) -> f64 {
    let mut vessel = Vessel::new(VesselSettings::default());
    let (Some(first), Some(last)) = (heard.first(), heard.last()) else {
        return 0.0;
    };
    let mut tick = first.at;
    for one in heard {
        while one.at.seconds_since(tick) >= 1.0 {
            tick = tick.plus_seconds(1.0);
            look(&vessel.now(tick));
        }
        let sender = Sender::on_line(&one.feed, &one.talker, one.kind);
        vessel.observe(one.at, sender, &one.said);
    }
    last.at.seconds_since(first.at)
}

/// A number in an observation that a lie can change; angles in degrees, speeds in m/s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Field {
    Vane,
    WindSpeed,
    Heading,
    Rate,
    Log,
    Ground,
    Course,
    Latitude,
    Longitude,
    Variation,
}

impl Field {
    pub fn get(self, said: &Observation) -> Option<f64> {
        match (self, said) {
            (Self::Vane, Observation::ApparentWind { angle, .. }) => angle.map(in_degrees),
            (Self::WindSpeed, Observation::ApparentWind { speed, .. }) => {
                speed.map(in_metres_per_second)
            }
            (
                Self::Heading,
                Observation::Heading(
                    HeadingObservation::True { heading }
                    | HeadingObservation::Magnetic { heading }
                    | HeadingObservation::Compass {
                        sensor: heading, ..
                    },
                ),
            ) => Some(in_degrees(*heading)),
            (Self::Rate, Observation::RateOfTurn(rate)) => Some(in_degrees_per_second(*rate)),
            (Self::Log, Observation::WaterSpeed { longitudinal, .. }) => {
                Some(in_metres_per_second(*longitudinal))
            }
            (Self::Ground, Observation::SpeedOverGround(speed)) => {
                Some(in_metres_per_second(*speed))
            }
            (Self::Course, Observation::CourseOverGround { true_north, .. }) => {
                true_north.map(in_degrees)
            }
            (Self::Latitude, Observation::Position(place)) => Some(in_degrees(place.latitude)),
            (Self::Longitude, Observation::Position(place)) => Some(in_degrees(place.longitude)),
            (Self::Variation, Observation::Variation(east)) => Some(in_degrees(*east)),
            _ => None,
        }
    }

    pub fn is_round(self) -> bool {
        matches!(self, Self::Vane | Self::Heading | Self::Course)
    }

    pub fn set(self, said: &mut Observation, to: f64) {
        let angle = degrees(if self.is_round() {
            to.rem_euclid(360.0)
        } else {
            to
        });
        let speed = metres_per_second(to);
        match (self, said) {
            (Self::Vane, Observation::ApparentWind { angle: own, .. }) => *own = Some(angle),
            (Self::WindSpeed, Observation::ApparentWind { speed: own, .. }) => *own = Some(speed),
            (
                Self::Heading,
                Observation::Heading(
                    HeadingObservation::True { heading }
                    | HeadingObservation::Magnetic { heading }
                    | HeadingObservation::Compass {
                        sensor: heading, ..
                    },
                ),
            ) => *heading = angle,
            (Self::Rate, Observation::RateOfTurn(rate)) => *rate = degrees_per_second(to),
            (Self::Log, Observation::WaterSpeed { longitudinal, .. }) => *longitudinal = speed,
            (Self::Ground, Observation::SpeedOverGround(own)) => *own = speed,
            (Self::Course, Observation::CourseOverGround { true_north, .. }) => {
                *true_north = Some(angle);
            }
            (Self::Latitude, Observation::Position(place)) => place.latitude = angle,
            (Self::Longitude, Observation::Position(place)) => place.longitude = angle,
            (Self::Variation, Observation::Variation(east)) => *east = angle,
            _ => {}
        }
    }
}

/// How a number lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum How {
    /// It stays as it was at the onset.
    Frozen,
    /// So much is added.
    Off(f64),
    /// It is so many times as large.
    Times(f64),
    /// It is this.
    Is(f64),
    /// It is on the other side of the bow.
    Mirrored,
    /// It is rounded to whole units.
    Whole,
    /// It is swung to and fro by so much beside what it is.
    Swung(f64),
    /// It goes so small a part of the way towards what it is.
    Damped(f64),
}

/// Instruments that the log does not have, and that the boat gets beside its own: feed `second`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beside {
    Nothing,
    /// A rate of turn, from the headings.
    Rate,
    /// A compass, 4 degrees off the first.
    Compass,
    /// A wind sensor, 3 degrees off the first.
    Vane,
    /// Another sender of the same name, with this lie.
    Echo,
    /// Another sender of the same name that begins at the onset, 0.3 s after the first, with this lie.
    Joins,
    /// The sender itself, which from the onset says everything five times, 0.2 s apart.
    Often,
}

/// Adds what the boat has beside its own instruments.
pub fn with(heard: &[Heard], beside: Beside, field: Field) -> Vec<Heard> {
    let mut all = Vec::new();
    let mut headings: Vec<(Millis, f64)> = Vec::new();
    let mut compass: Option<(&'static str, Millis)> = None;
    for one in heard {
        all.push(one.clone());
        let second = |said: Observation, kind: &'static str, talker: &str| Heard {
            at: one.at,
            feed: String::from("second"),
            talker: talker.to_owned(),
            kind,
            said,
            copy: false,
        };
        match beside {
            Beside::Rate | Beside::Compass if one.kind != "VHW" => {
                let Some(heading) = Field::Heading.get(&one.said) else {
                    continue;
                };
                // One kind of sentence, once for each moment.
                let (kind, last) = *compass.get_or_insert((one.kind, Millis(i64::MIN)));
                if kind != one.kind || last == one.at {
                    continue;
                }
                compass = Some((kind, one.at));
                headings.push((one.at, heading));
                if beside == Beside::Compass {
                    let mut said = one.said.clone();
                    Field::Heading.set(&mut said, heading + 4.0);
                    all.push(second(said, one.kind, "HC"));
                } else if let [.., (t0, h0), _, (t1, h1)] = headings[..] {
                    let dt_s = t1.seconds_since(t0).max(0.1);
                    let by = wrap_signed((h1 - h0).to_radians()).to_degrees();
                    let rate = degrees_per_second(by / dt_s);
                    all.push(second(Observation::RateOfTurn(rate), "ROT", "TI"));
                }
            }
            Beside::Vane => {
                if let Some(angle) = Field::Vane.get(&one.said).filter(|_| one.kind == "MWV") {
                    let mut said = one.said.clone();
                    Field::Vane.set(&mut said, angle + 3.0);
                    all.push(second(said, "MWV", "WI"));
                }
            }
            Beside::Joins | Beside::Often
                if (one.kind != "VHW" || field == Field::Log) && field.get(&one.said).is_some() =>
            {
                let times = if beside == Beside::Often { 4 } else { 1 };
                let apart_s = if beside == Beside::Often { 0.2 } else { 0.3 };
                for time in 1..=times {
                    all.push(Heard {
                        at: one.at.plus_seconds(apart_s * f64::from(time)),
                        copy: true,
                        ..one.clone()
                    });
                }
            }
            Beside::Echo if one.kind != "VHW" && field.get(&one.said).is_some() => {
                let mut echo = one.clone();
                // Until the onset it says the same.
                echo.kind = one.kind;
                all.push(echo);
            }
            _ => {}
        }
    }
    all.sort_by_key(|one| one.at);
    all
}

/// Lays a lie over everything heard from `onset` on; over `ramp_s` it grows to its full size. Who joins
/// at the onset says nothing before it.
pub fn lay(heard: &mut Vec<Heard>, lie: (&[(Field, How)], Beside), onset: Millis, ramp_s: f64) {
    let (changes, beside) = lie;
    heard.retain(|one| !one.copy || one.at >= onset);
    let mut count = 0_u32;
    let mut held: Vec<((String, &'static str, usize), f64)> = Vec::new();
    let mut second_of_two = false;
    for one in heard.iter_mut().filter(|one| one.at >= onset) {
        let grown_s = one.at.seconds_since(onset);
        let share = if ramp_s > 0.0 {
            (grown_s / ramp_s).min(1.0)
        } else {
            1.0
        };
        for (number, (field, how)) in changes.iter().enumerate() {
            let Some(honest) = field.get(&one.said) else {
                continue;
            };
            match beside {
                Beside::Vane | Beside::Compass if one.feed != "second" => continue,
                Beside::Joins if !one.copy => continue,
                Beside::Echo => {
                    if one.kind == "VHW" {
                        continue;
                    }
                    second_of_two = !second_of_two;
                    if second_of_two {
                        continue;
                    }
                }
                _ => {}
            }
            let full = match how {
                How::Frozen => {
                    let key = (one.feed.clone(), one.kind, number);
                    match held.iter().find(|(of, _)| *of == key) {
                        Some((_, held)) => *held,
                        None => {
                            held.push((key, honest));
                            honest
                        }
                    }
                }
                How::Whole => honest.round(),
                How::Swung(by) => {
                    count += 1;
                    // Of no short period.
                    honest + by * (f64::from(count) * 2.4).sin() * (f64::from(count) * 0.37).cos()
                }
                How::Damped(part) => {
                    let key = (one.feed.clone(), one.kind, number);
                    match held.iter_mut().find(|(of, _)| *of == key) {
                        Some((_, held)) => {
                            let off = if field.is_round() {
                                wrap_signed((honest - *held).to_radians()).to_degrees()
                            } else {
                                honest - *held
                            };
                            *held += part * off;
                            *held
                        }
                        None => {
                            held.push((key, honest));
                            honest
                        }
                    }
                }
                How::Off(by) => honest + by,
                How::Times(by) => honest * by,
                How::Is(to) => *to,
                How::Mirrored => -honest,
            };
            let by = if field.is_round() && !matches!(how, How::Off(_)) {
                wrap_signed((full - honest).to_radians()).to_degrees()
            } else {
                full - honest
            };
            let lies = if share == 1.0 {
                full
            } else {
                honest + share * by
            };
            field.set(&mut one.said, lies);
        }
    }
}
