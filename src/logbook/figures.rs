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
//! - **Enough** to compare or to give a share: ten bites, ten troubles, ten alarms. Own judgement: of
//!   ten, about three more or less are chance (the square root).
//! - **What was learnt** of a kite is what was so at the end of its time on the day.

use serde::Serialize;
use utoipa::ToSchema;

use super::day::{BiteRow, DayRows, SessionRows};
use super::parts::{KitePart, by_kite};
use super::place::Place;
use super::shapes::{Bite, BiteRate, Corrections, Enough, KiteOfDay, TimeIn};
use super::tallies::{Tallies, fishing_s};
use crate::forecast::{LearntNow, LearntNumber};
use crate::score::Report;
use crate::time::Millis;

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
    /// Bites in an hour of fishing; `null` with less than an hour.
    pub bites_per_hour: Option<f64>,
    /// How good the advice was, by the crew's own taps.
    pub advice: Report,
    /// Whether there is enough to compare.
    pub enough: Enough,
    /// The kites of the day.
    pub kites: Vec<KiteOfDay>,
}

/// Works the figures of a day out.
#[must_use]
pub fn figures(day: &DayRows) -> DayFigures {
    let sum = Tallies::of_day(day.date, day.sessions.iter());
    let advice = Report::new(&sum.marks);
    DayFigures {
        day: day.date.to_string(),
        zone_hours: day.zone_hours,
        sessions: day.sessions.len() as u64,
        from: day.sessions.iter().map(|session| session.from).min(),
        to: day.sessions.iter().filter_map(last).max(),
        watched_s: sum.watched_s,
        fishing_s: sum.fishing_s,
        by_model: sum.by_model(),
        by_crew: sum.by_crew(),
        corrections: sum.corrections(),
        bites: bites(day).map(shown).collect(),
        bite_rates: sum.bite_rates(),
        bites_per_hour: sum.bites_per_hour(),
        enough: Enough::of(1, sum.bites, &advice),
        advice,
        kites: kites(day),
    }
}

fn last(session: &SessionRows) -> Option<Millis> {
    let spans = session.spans.iter().map(|span| span.to);
    spans
        .chain(session.sentences.iter().map(|(at, _)| *at))
        .max()
}

fn bites(day: &DayRows) -> impl Iterator<Item = &BiteRow> {
    day.sessions.iter().flat_map(|session| &session.bites)
}

fn shown(bite: &BiteRow) -> Bite {
    let state = &bite.state;
    let bait = Place::of_bait(state).map(Place::rounded);
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
        bait_latitude_deg: bait.map(|place| place.latitude_deg),
        bait_longitude_deg: bait.map(|place| place.longitude_deg),
    }
}

/// The kites of a day that anything was fished or learnt with.
fn kites(day: &DayRows) -> Vec<KiteOfDay> {
    let of_part = |part: KitePart<'_>| {
        let rows = || part.sessions.iter().flat_map(|session| &session.learnt);
        let learnt: Option<(Millis, LearntNow)> = rows()
            .map(|row| (row.at, row.learnt))
            .max_by_key(|(at, _)| *at);
        let at_end = rows().filter(|row| learnt.is_some_and(|(at, _)| row.at == at));
        let mut numbers: Vec<LearntNumber> = at_end.map(|row| row.number).collect();
        numbers.sort_by_key(|number| number.about);
        KiteOfDay {
            fishing_s: part.sessions.iter().map(|session| fishing_s(session)).sum(),
            kite: part.kite,
            reports: learnt.map(|(_, learnt)| learnt.reports),
            last_report_at: learnt.map(|(_, learnt)| learnt.at),
            numbers,
        }
    };
    let all = by_kite(day).into_iter().map(of_part);
    all.filter(|kite| kite.fishing_s > 0.0 || kite.reports.is_some())
        .collect()
}
