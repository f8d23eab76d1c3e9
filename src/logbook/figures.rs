//! The figures of a day from its rows. Pure. What `score` also counts is counted by `score`.
//!
//! # Definitions
//!
//! - **Time** comes from spans. *Fishing* is time in which the crew fished and there was a forecast.
//! - **By the model** the bait is airborne or dragging when at least half of the futures begin so, and
//!   else skips.
//! - **By the crew** it does what was said last, from the tap on, until the next tap about the bait,
//!   until they no longer fish (a bite, even one taken back later, a launch, a stop), or for 10
//!   minutes, whichever is first.
//! - **Corrections** are the moves of lines that the crew told of, 0.5 m or more, those that they
//!   answered to an advisory included.
//! - **Bites against a quantity**: bites in which it was known, and fishing time, each in bins of it. A
//!   rate is given from an hour on: less shows nothing. Time in a bin comes from thinned states: each
//!   stands until the next one, 20 s at most.
//! - **Advice** is what `score` makes of the crew's taps: they are the only truth at sea, and coarse
//!   (head of `score`).

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use super::day::{BiteRow, DayRows, SessionRows};
use super::rows::{BiteResult, ChanceRun, Doing, Span, State};
use super::sail::{PointOfSail, Tack};
use crate::decode::{BaitState, Line};
use crate::forecast::Chance;
use crate::score::{Marks, Report, Rules, Tally};
use crate::time::Millis;

/// What the crew said of the bait holds no longer than this.
const TOLD_HOLDS_S: f64 = 600.0;
/// A smaller move is none.
const LEAST_MOVE_M: f64 = 0.5;
/// A rate needs so much time.
const RATE_FROM_S: f64 = 3600.0;
/// A thinned state stands no longer than this.
const STATE_HOLDS_S: f64 = 20.0;

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
}

/// The figures of a day.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DayFigures {
    /// Date where the boat was.
    pub day: String,
    /// Hours of that place's clock east of UTC.
    pub zone_hours: i32,
    /// Sessions that the day is made of.
    pub sessions: u64,
    /// First moment.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub from: Option<Millis>,
    /// Last moment.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub to: Option<Millis>,
    /// Time in which pictures were made.
    pub watched_s: f64,
    /// Time fished with a forecast.
    pub fishing_s: f64,
    /// What the bait did, by the model.
    pub by_model: Vec<TimeIn>,
    /// What the bait did, by the crew.
    pub by_crew: Vec<TimeIn>,
    /// Moves of lines.
    pub corrections: Corrections,
    /// Bites.
    pub bites: Vec<Bite>,
    /// Bites against what they may depend on.
    pub bite_rates: Vec<BiteRate>,
    /// How good the advice was, by the crew's own taps.
    pub advice: Report,
}

/// Works the figures of a day out.
#[must_use]
pub fn figures(day: &DayRows) -> DayFigures {
    let spans = || day.sessions.iter().flat_map(|session| &session.spans);
    let seconds = |spans: &mut dyn Iterator<Item = &Span>| -> f64 { spans.map(length_s).sum() };
    let fishing_s = seconds(&mut spans().filter(|span| is_fishing(span)));
    let mut by_model = Times::default();
    let mut by_crew = Times::default();
    for session in &day.sessions {
        for span in session.spans.iter().filter(|span| is_fishing(span)) {
            if let Some(bait) = span.bait {
                by_model.add(bait, span, length_s(span));
            }
        }
        told_time(session, &mut by_crew);
    }
    DayFigures {
        day: day.date.to_string(),
        zone_hours: day.zone_hours,
        sessions: day.sessions.len() as u64,
        from: day.sessions.iter().map(|session| session.from).min(),
        to: day.sessions.iter().filter_map(last).max(),
        watched_s: seconds(&mut spans()),
        fishing_s,
        by_model: by_model.list(),
        by_crew: by_crew.list(),
        corrections: corrections(day, fishing_s),
        bites: bites(day).map(shown).collect(),
        bite_rates: bite_rates(day),
        advice: Report::new(&marks(day)),
    }
}

fn length_s(span: &Span) -> f64 {
    span.to.seconds_since(span.from)
}

fn is_fishing(span: &Span) -> bool {
    span.doing == Doing::Fishing && span.bait.is_some()
}

fn last(session: &SessionRows) -> Option<Millis> {
    let spans = session.spans.iter().map(|span| span.to);
    spans
        .chain(session.sentences.iter().map(|(at, _)| *at))
        .max()
}

/// Sums of time, each kind in the order of its words.
#[derive(Default)]
struct Times(BTreeMap<(BaitState, Option<PointOfSail>, Option<Tack>), f64>);

impl Times {
    fn add(&mut self, bait: BaitState, span: &Span, time_s: f64) {
        let kind = (bait, span.point_of_sail, span.tack);
        *self.0.entry(kind).or_default() += time_s;
    }

    fn list(self) -> Vec<TimeIn> {
        let shown = |((bait, point_of_sail, tack), time_s)| TimeIn {
            bait,
            point_of_sail,
            tack,
            time_s,
        };
        self.0.into_iter().map(shown).collect()
    }
}

/// Time by what the crew said that the bait did.
fn told_time(session: &SessionRows, times: &mut Times) {
    for (i, (said_at, bait)) in session.bait_told.iter().enumerate() {
        let next = session.bait_told.get(i + 1).map(|(at, _)| *at);
        let latest = said_at.plus_seconds(TOLD_HOLDS_S);
        let until = next.map_or(latest, |next| next.min(latest));
        let spans = session.spans.iter().filter(|span| span.to > *said_at);
        for span in spans.take_while(|span| span.from < until) {
            if span.doing != Doing::Fishing {
                break;
            }
            let (from, to) = (span.from.max(*said_at), span.to.min(until));
            times.add(*bait, span, to.seconds_since(from));
        }
    }
}

fn corrections(day: &DayRows, fishing_s: f64) -> Corrections {
    let count = |line: Line| {
        let moves = day.sessions.iter().flat_map(|session| &session.moves);
        moves
            .filter(|m| m.line == line && m.by_m.abs() >= LEAST_MOVE_M)
            .count() as u64
    };
    let (kite, main) = (count(Line::Kite), count(Line::Main));
    Corrections {
        kite,
        main,
        per_hour: per_hour(kite + main, fishing_s),
    }
}

fn per_hour(count: u64, time_s: f64) -> Option<f64> {
    (time_s >= RATE_FROM_S).then(|| count as f64 / (time_s / 3600.0))
}

fn bites(day: &DayRows) -> impl Iterator<Item = &BiteRow> {
    day.sessions.iter().flat_map(|session| &session.bites)
}

fn shown(bite: &BiteRow) -> Bite {
    let state = &bite.state;
    Bite {
        at: bite.at,
        result: bite.result.map(|(result, _)| result),
        result_at: bite.result.map(|(_, at)| at),
        latitude_deg: state.latitude_deg,
        longitude_deg: state.longitude_deg,
        heading_deg_true: state.heading_deg_true,
        speed_water_mps: state.speed_water_mps,
        wind_at_sensor_mps: state.wind_at_sensor_mps,
        wind_from_deg_true: state.wind_from_deg_true,
        kite_line_m: state.kite_line_m,
        main_line_m: state.main_line_m,
        kite_elevation_deg: state.kite_elevation_deg,
        kite_off_astern_deg: state.kite_off_astern_deg,
        bait: state.bait,
    }
}

impl Against {
    const ALL: [Self; 4] = [
        Self::KiteElevationDeg,
        Self::KiteOffAsternDeg,
        Self::SpeedWaterMps,
        Self::WindAtSensorMps,
    ];

    fn step(self) -> f64 {
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

    fn bin(self, state: &State) -> Option<i64> {
        self.of(state)
            .map(|value| (value / self.step()).floor() as i64)
    }
}

fn bite_rates(day: &DayRows) -> Vec<BiteRate> {
    let mut rates = Vec::new();
    for against in Against::ALL {
        let mut bins: BTreeMap<i64, (u64, f64)> = BTreeMap::new();
        for session in &day.sessions {
            for pair in session.states.windows(2) {
                let [state, next] = pair else { continue };
                let fishes = state.doing == Doing::Fishing && state.bait.is_some();
                if let (true, Some(bin)) = (fishes, against.bin(state)) {
                    let stands_s = next.at.seconds_since(state.at).min(STATE_HOLDS_S);
                    bins.entry(bin).or_default().1 += stands_s;
                }
            }
        }
        for bin in bites(day).filter_map(|bite| against.bin(&bite.state)) {
            bins.entry(bin).or_default().0 += 1;
        }
        let step = against.step();
        rates.extend(bins.into_iter().map(|(bin, (bites, fishing_s))| BiteRate {
            against,
            from: bin as f64 * step,
            to: (bin + 1) as f64 * step,
            bites,
            fishing_s,
            per_hour: per_hour(bites, fishing_s),
        }));
    }
    rates
}

/// What `score` makes of the day: each session as a recording without a truth.
fn marks(day: &DayRows) -> Marks {
    let mut marks = Marks::new();
    for session in &day.sessions {
        let mut tally = Tally::new();
        for (at, sentence) in &session.sentences {
            tally.sentence(*at, sentence);
        }
        for revision in &session.revisions {
            tally.revised(revision);
        }
        for (made_at, (horizon_s, chances)) in forecasts(&session.chances) {
            tally.made(made_at, horizon_s, &chances);
        }
        marks.merge(&tally.end(session.from, None, &Rules::default()));
    }
    marks
}

/// The forecasts that were made, each with its chances.
fn forecasts(runs: &[ChanceRun]) -> BTreeMap<Millis, (f64, Vec<Chance>)> {
    let mut made: BTreeMap<Millis, (f64, Vec<Chance>)> = BTreeMap::new();
    for run in runs {
        for i in 0..run.forecasts {
            let made_at = run.made_at.plus_seconds(f64::from(i));
            let (_, chances) = made.entry(made_at).or_insert((run.horizon_s, Vec::new()));
            chances.push(Chance {
                kind: run.trouble,
                chance: run.chance,
                so_now: run.so_now,
                onset_s: run.onset_s,
                later_s: None,
                chance_with_plan: None,
            });
        }
    }
    made
}
