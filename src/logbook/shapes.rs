//! The parts that figures are made of, as API and pages show them.

use serde::Serialize;
use utoipa::ToSchema;

use super::in_force::Kite;
use super::rows::{BiteResult, State};
use super::sail::{PointOfSail, Tack};
use crate::decode::BaitState;
use crate::forecast::LearntNumber;
use crate::score::{Report, Told};
use crate::time::Millis;

/// Fewer bites show nothing when they are compared: of ten, three more or less are chance.
const ENOUGH_BITES: u64 = 10;
/// Fewer troubles, or alarms, show nothing as a share.
const ENOUGH_EVENTS: u64 = 10;
/// Fewer days are the weather of those days.
const ENOUGH_DAYS: u64 = 3;

/// Time of one kind.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct TimeIn {
    /// What the bait did.
    pub bait: BaitState,
    /// How far off the bow the true wind came; `null` where that is not known.
    pub point_of_sail: Option<PointOfSail>,
    /// From which side.
    pub tack: Option<Tack>,
    /// How long.
    pub time_s: f64,
}

/// Moves of lines.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Corrections {
    /// Of the kite line.
    pub kite: u64,
    /// Of the main line.
    pub main: u64,
    /// Of both in an hour of fishing; `null` with less than an hour.
    pub per_hour: Option<f64>,
}

/// A bite and what was known then; `null` where nothing was.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Bite {
    /// When it was told.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// How it ended; `null` while that was not told.
    pub result: Option<BiteResult>,
    /// When that was told.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub result_at: Option<Millis>,
    /// Position of the boat.
    pub latitude_deg: Option<f64>,
    /// Position of the boat.
    pub longitude_deg: Option<f64>,
    /// True heading.
    pub heading_deg_true: Option<f64>,
    /// Through the water.
    pub speed_water_mps: Option<f64>,
    /// True wind at the sensor.
    pub wind_at_sensor_mps: Option<f64>,
    /// Where it came from.
    pub wind_from_deg_true: Option<f64>,
    /// Kite line out.
    pub kite_line_m: Option<f64>,
    /// Main line out.
    pub main_line_m: Option<f64>,
    /// Kite line above the horizon, by the model.
    pub kite_elevation_deg: Option<f64>,
    /// Kite off dead astern, + to starboard, by the model.
    pub kite_off_astern_deg: Option<f64>,
    /// What the bait did, by the model.
    pub bait: Option<BaitState>,
    /// Position of the bait, by the model.
    pub bait_latitude_deg: Option<f64>,
    /// Position of the bait, by the model.
    pub bait_longitude_deg: Option<f64>,
}

/// What bites are counted against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Against {
    /// Kite line above the horizon, in steps of 10 degrees.
    KiteElevationDeg,
    /// Kite off dead astern, either side, in steps of 15 degrees.
    KiteOffAsternDeg,
    /// Boat through the water, in steps of 0.5 m/s.
    SpeedWaterMps,
    /// True wind at the sensor, in steps of 2 m/s.
    WindAtSensorMps,
}

/// Bites in one bin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct BiteRate {
    /// Which quantity.
    pub against: Against,
    /// From.
    pub from: f64,
    /// To, not included.
    pub to: f64,
    /// Bites.
    pub bites: u64,
    /// Time fished.
    pub fishing_s: f64,
    /// Bites an hour; `null` with less than an hour.
    pub per_hour: Option<f64>,
    /// Days on which anything was fished in it, or bitten.
    pub days: u64,
}

/// Whether there is enough to say more than how many there were.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct Enough {
    /// Days, to compare with others.
    pub days: bool,
    /// Bites, to compare where and when they came.
    pub bites: bool,
    /// Troubles that the crew told of, to give the share that was foretold.
    pub events: bool,
    /// Alarms that came true or not, to give the share that was false.
    pub alarms: bool,
}

impl Enough {
    /// By how much there is.
    pub(super) fn of(days: u64, bites: u64, advice: &Report) -> Self {
        let all = |count: fn(&Told) -> u64| -> u64 {
            let rows = advice.told.iter().filter(|row| row.trouble == "all");
            rows.map(count).sum()
        };
        Self {
            days: days >= ENOUGH_DAYS,
            bites: bites >= ENOUGH_BITES,
            events: all(|row| row.events) >= ENOUGH_EVENTS,
            alarms: all(|row| row.true_alarms + row.false_alarms) >= ENOUGH_EVENTS,
        }
    }
}

/// A kite on one day.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KiteOfDay {
    /// Which; `null` where the settings were not kept.
    pub kite: Option<Kite>,
    /// Time fished with it.
    pub fishing_s: f64,
    /// Reports of the crew that have taught it so far, on this day and before; `null` when nothing was
    /// learnt.
    pub reports: Option<u64>,
    /// When the last of them came.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub last_report_at: Option<Millis>,
    /// What they have taught.
    pub numbers: Vec<LearntNumber>,
}

impl Against {
    /// All of them.
    pub(super) const ALL: [Self; 4] = [
        Self::KiteElevationDeg,
        Self::KiteOffAsternDeg,
        Self::SpeedWaterMps,
        Self::WindAtSensorMps,
    ];

    /// Width of a bin.
    pub(super) fn step(self) -> f64 {
        match self {
            Self::KiteElevationDeg => 10.0,
            Self::KiteOffAsternDeg => 15.0,
            Self::SpeedWaterMps => 0.5,
            Self::WindAtSensorMps => 2.0,
        }
    }

    fn of(self, state: &State) -> Option<f64> {
        match self {
            Self::KiteElevationDeg => state.kite_elevation_deg,
            Self::KiteOffAsternDeg => state.kite_off_astern_deg.map(f64::abs),
            Self::SpeedWaterMps => state.speed_water_mps,
            Self::WindAtSensorMps => state.wind_at_sensor_mps,
        }
    }

    /// The bin of a state; `None` where the quantity was not known.
    pub(super) fn bin(self, state: &State) -> Option<i64> {
        self.of(state)
            .map(|value| (value / self.step()).floor() as i64)
    }
}
