//! The boat as the API shows her: believed values with source, age and grade, and every source.

use serde::Serialize;
use utoipa::ToSchema;

use super::quantities::{ApparentWindAnswer, PositionAnswer, TrueWindAnswer};
use crate::time::Millis;
use crate::vessel::{Grade, Instrument, Quantity, Reading, VesselNow};

/// A believed value; its unit stands in the name of the field that holds it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Graded<T> {
    /// The value.
    pub value: T,
    /// When its oldest input arrived.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// Age at the moment of the tick.
    pub age_s: f64,
    /// Where it came from.
    pub source: String,
    /// How far to trust it.
    pub grade: Grade,
}

/// The last minutes of true wind.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct WindStatisticsAnswer {
    /// Length of the record.
    pub window_s: f64,
    /// Mean speed.
    pub mean_mps: f64,
    /// Mean direction it comes from, true.
    pub mean_from_deg_true: f64,
    /// Standard deviation of speed.
    pub speed_sd_mps: f64,
    /// Circular standard deviation of direction.
    pub direction_sd_deg: f64,
    /// Highest 3 s mean.
    pub gust_mps: f64,
    /// Direction of the last minute less that of the window, + clockwise.
    pub shift_deg: f64,
    /// Time in which speed departures decay to 1/e.
    pub gust_time_s: f64,
}

/// What the forecast lacks.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MissingAnswer {
    /// Which quantity.
    pub quantity: Quantity,
    /// When it was last heard; `null` when never.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub last_heard: Option<Millis>,
    /// In words.
    pub why: String,
}

/// The boat. `null` where nothing live is known.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VesselAnswer {
    /// True heading, 0..360.
    pub heading_deg_true: Option<Graded<f64>>,
    /// Rate of turn, + to starboard.
    pub rate_of_turn_deg_s: Option<Graded<f64>>,
    /// Speed through the water.
    pub speed_water_mps: Option<Graded<f64>>,
    /// Speed over ground.
    pub speed_ground_mps: Option<Graded<f64>>,
    /// Course over ground, true.
    pub course_deg_true: Option<Graded<f64>>,
    /// Position.
    pub position: Option<Graded<PositionAnswer>>,
    /// Rudder, + turns to starboard.
    pub rudder_deg: Option<Graded<f64>>,
    /// Wind at the sensor, relative to the boat.
    pub apparent_wind: Option<Graded<ApparentWindAnswer>>,
    /// Wind over the water.
    pub true_wind: Option<Graded<TrueWindAnswer>>,
    /// The last minutes of it.
    pub wind_statistics: Option<WindStatisticsAnswer>,
    /// Magnetic variation used, + east.
    pub variation_deg: Option<Graded<f64>>,
    /// What the forecast lacks; empty when all is there.
    pub missing: Vec<MissingAnswer>,
    /// Every source that is heard, or that the crew ignores.
    pub sources: Vec<SourceAnswer>,
}

/// A source that speaks otherwise than it did.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct HabitAnswer {
    /// In what way, in words that follow its name.
    pub changed: &'static str,
    /// Since when.
    #[schema(value_type = String, format = DateTime)]
    pub since: Millis,
}

/// One source of the instruments.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SourceAnswer {
    /// What it measures.
    pub instrument: Instrument,
    /// Feed, talker and kind of sentence: what `/v1/crew/instrument` takes.
    pub name: String,
    /// Since when it has been silent, seconds.
    pub age_s: f64,
    /// Whether it is the one that is believed.
    pub used: bool,
    /// Whether the crew ignores it.
    pub ignored: bool,
    /// In what way it contradicts the others or itself, in words that follow its name.
    pub seen: Option<String>,
    /// A habit that it has changed, which is no lie.
    pub habit: Option<HabitAnswer>,
}

/// A reading in other units.
fn graded<T, U>(
    reading: Option<&Reading<T>>,
    at: Millis,
    convert: impl Fn(&T) -> U,
) -> Option<Graded<U>> {
    reading.map(|r| Graded {
        value: convert(&r.value),
        at: r.at,
        age_s: r.age_s(at),
        source: r.source.clone(),
        grade: r.grade,
    })
}

fn degrees(radians: &f64) -> f64 {
    radians.to_degrees()
}

impl VesselAnswer {
    pub(super) fn new(vessel: &VesselNow, at: Millis) -> Self {
        Self {
            heading_deg_true: graded(vessel.heading_true_rad.as_ref(), at, degrees),
            rate_of_turn_deg_s: graded(vessel.rate_of_turn_rad_s.as_ref(), at, degrees),
            speed_water_mps: graded(vessel.speed_water_mps.as_ref(), at, |v| *v),
            speed_ground_mps: graded(vessel.speed_ground_mps.as_ref(), at, |v| *v),
            course_deg_true: graded(vessel.course_true_rad.as_ref(), at, degrees),
            position: graded(vessel.position.as_ref(), at, |p| PositionAnswer {
                latitude_deg: p.latitude_deg,
                longitude_deg: p.longitude_deg,
            }),
            rudder_deg: graded(vessel.rudder_rad.as_ref(), at, degrees),
            apparent_wind: graded(vessel.apparent_wind.as_ref(), at, |w| ApparentWindAnswer {
                angle_deg: w.angle_rad.to_degrees(),
                speed_mps: w.speed_mps,
            }),
            true_wind: graded(vessel.true_wind.as_ref(), at, |w| TrueWindAnswer {
                from_deg_true: w.from_rad.to_degrees(),
                speed_mps: w.speed_mps,
            }),
            wind_statistics: vessel.wind_statistics.map(|w| WindStatisticsAnswer {
                window_s: w.window_s,
                mean_mps: w.mean_mps,
                mean_from_deg_true: w.mean_from_rad.to_degrees(),
                speed_sd_mps: w.speed_sd_mps,
                direction_sd_deg: w.direction_sd_rad.to_degrees(),
                gust_mps: w.gust_mps,
                shift_deg: w.shift_rad.to_degrees(),
                gust_time_s: w.gust_time_s,
            }),
            variation_deg: graded(vessel.variation_rad.as_ref(), at, degrees),
            missing: vessel
                .missing
                .iter()
                .map(|m| MissingAnswer {
                    quantity: m.quantity,
                    last_heard: m.last_heard,
                    why: m.why.clone(),
                })
                .collect(),
            sources: vessel
                .sources
                .iter()
                .map(|source| SourceAnswer {
                    instrument: source.instrument,
                    name: source.name.clone(),
                    age_s: at.seconds_since(source.at),
                    used: source.used,
                    ignored: source.ignored,
                    seen: source.seen.clone(),
                    habit: source
                        .habit
                        .map(|(changed, since)| HabitAnswer { changed, since }),
                })
                .collect(),
        }
    }
}
