//! The last value of each source as the channels keep it, and what makes it unfit to be believed.

use super::source::Fitness;
use crate::decode::HeadingObservation;
use crate::geodesy::Position;
use crate::time::Millis;
use crate::units::in_radians;

/// An anemometer whose speed has read exactly zero for this long says nothing: its cups are stuck,
/// or there is no wind that could fly a kite. Either way there is no wind to work with, whether or
/// not the boat has way on.
pub(super) const STUCK_AFTER_S: f64 = 10.0;

/// Least number of equal readings of a frozen sensor, so that a slow one is not taken for frozen.
const FROZEN_READINGS: u32 = 20;

/// What makes an apparent wind useless although it keeps coming.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum WindFault {
    /// The speed has read exactly zero.
    Zero,
    /// Angle and speed have both been exactly the same.
    Frozen,
}

/// Readings of one sensor that were all exactly alike, under way.
#[derive(Debug, Clone, Copy)]
pub(super) struct Alike {
    since: Millis,
    readings: u32,
}

/// Apparent wind of one sensor.
#[derive(Debug, Clone, Copy)]
pub(super) struct WindSample {
    pub angle_rad: f64,
    pub speed_mps: f64,
    /// When the speed was last above zero.
    last_moved: Option<Millis>,
    alike: Option<Alike>,
    frozen: bool,
}

impl WindSample {
    /// The next reading of a sensor. Speed and angle of the wind on a boat that moves are never
    /// both exactly the same for long: a sensor that repeats both has stopped measuring. This holds
    /// for no other quantity: a steady course in whole degrees, a rate of turn or rudder of 0.0 and
    /// a steady speed are what good instruments show in calm water.
    pub fn next(
        last: Option<&Self>,
        at: Millis,
        (angle_rad, speed_mps): (f64, f64),
        under_way: bool,
        frozen_after_s: f64,
    ) -> Self {
        let same = last.is_some_and(|l| l.angle_rad == angle_rad && l.speed_mps == speed_mps);
        let alike = under_way.then(|| {
            let before = last.filter(|_| same).and_then(|l| l.alike);
            Alike {
                since: before.map_or(at, |alike| alike.since),
                readings: before.map_or(1, |alike| alike.readings.saturating_add(1)),
            }
        });
        Self {
            angle_rad,
            speed_mps,
            last_moved: if speed_mps > 0.0 {
                Some(at)
            } else {
                last.and_then(|l| l.last_moved)
            },
            alike,
            frozen: alike.is_some_and(|alike| {
                alike.readings >= FROZEN_READINGS && at.seconds_since(alike.since) >= frozen_after_s
            }),
        }
    }

    /// Why it is not believed.
    pub fn fault(&self, now: Millis) -> Option<WindFault> {
        if !moved_lately(self.last_moved, now) {
            Some(WindFault::Zero)
        } else {
            self.frozen.then_some(WindFault::Frozen)
        }
    }

    /// When it last said something new.
    pub fn useful_at(&self) -> Option<Millis> {
        match self.alike {
            Some(alike) if self.frozen => self.last_moved.map(|moved| moved.min(alike.since)),
            _ => self.last_moved,
        }
    }
}

fn moved_lately(last_moved: Option<Millis>, now: Millis) -> bool {
    last_moved.is_some_and(|moved| now.seconds_since(moved) <= STUCK_AFTER_S)
}

impl Fitness for WindSample {
    fn is_fit(&self, now: Millis) -> bool {
        self.fault(now).is_none()
    }
}

/// Wind that an instrument has already worked out.
#[derive(Debug, Clone, Copy)]
pub(super) enum WorkedOutWind {
    /// Over the water, from the bow.
    Relative { angle_rad: f64, speed_mps: f64 },
    /// From true north.
    True { from_rad: f64, speed_mps: f64 },
    /// From magnetic north.
    Magnetic { from_rad: f64, speed_mps: f64 },
}

impl WorkedOutWind {
    /// A wind relative to the bow, if both parts are given.
    pub fn from_bow(angle_rad: Option<f64>, speed_mps: Option<f64>) -> Option<Self> {
        Some(Self::Relative {
            angle_rad: angle_rad?,
            speed_mps: speed_mps?,
        })
    }

    /// A wind relative to true north where that is given, else to magnetic north.
    pub fn from_north(
        true_rad: Option<f64>,
        magnetic_rad: Option<f64>,
        speed_mps: Option<f64>,
    ) -> Option<Self> {
        let speed_mps = speed_mps?;
        let from_true = true_rad.map(|from_rad| Self::True {
            from_rad,
            speed_mps,
        });
        from_true.or(magnetic_rad.map(|from_rad| Self::Magnetic {
            from_rad,
            speed_mps,
        }))
    }

    fn speed_mps(self) -> f64 {
        match self {
            Self::Relative { speed_mps, .. }
            | Self::True { speed_mps, .. }
            | Self::Magnetic { speed_mps, .. } => speed_mps,
        }
    }
}

/// Worked-out wind of one source. It is often a mean over minutes and may repeat, so only a speed
/// of exactly zero makes it useless.
#[derive(Debug, Clone, Copy)]
pub(super) struct WorkedOutSample {
    pub wind: WorkedOutWind,
    /// When the speed was last above zero.
    pub last_moved: Option<Millis>,
}

impl WorkedOutSample {
    pub fn next(last: Option<&Self>, at: Millis, wind: WorkedOutWind) -> Self {
        Self {
            wind,
            last_moved: if wind.speed_mps() > 0.0 {
                Some(at)
            } else {
                last.and_then(|l| l.last_moved)
            },
        }
    }
}

impl Fitness for WorkedOutSample {
    fn is_fit(&self, now: Millis) -> bool {
        moved_lately(self.last_moved, now)
    }
}

impl Fitness for HeadingObservation {}

/// A heading as true, with this variation where it brings none of its own.
pub(super) fn true_heading_rad(heading: HeadingObservation, variation_rad: f64) -> f64 {
    match heading {
        HeadingObservation::True { heading } => in_radians(heading),
        HeadingObservation::Magnetic { heading } => in_radians(heading) + variation_rad,
        HeadingObservation::Compass {
            sensor,
            deviation,
            variation,
        } => {
            in_radians(sensor)
                + deviation.map_or(0.0, in_radians)
                + variation.map_or(variation_rad, in_radians)
        }
    }
}

/// Speed through the water.
#[derive(Debug, Clone, Copy)]
pub(super) struct LogSample {
    pub ahead_mps: f64,
    pub starboard_mps: Option<f64>,
    /// Since when the log has read exactly zero.
    pub zero_since: Option<Millis>,
}

impl LogSample {
    pub fn next(
        last: Option<&Self>,
        at: Millis,
        ahead_mps: f64,
        starboard_mps: Option<f64>,
    ) -> Self {
        Self {
            ahead_mps,
            starboard_mps,
            zero_since: (ahead_mps == 0.0).then(|| last.and_then(|l| l.zero_since).unwrap_or(at)),
        }
    }
}

impl Fitness for LogSample {}

/// Course over ground.
#[derive(Debug, Clone, Copy)]
pub(super) enum Course {
    True(f64),
    Magnetic(f64),
}

impl Course {
    /// Over true north where that is given, else over magnetic north.
    pub fn from_north(true_rad: Option<f64>, magnetic_rad: Option<f64>) -> Option<Self> {
        true_rad
            .map(Self::True)
            .or(magnetic_rad.map(Self::Magnetic))
    }
}

impl Fitness for Course {}

impl Fitness for f64 {}

impl Fitness for Position {}
