//! The days of the logbook.

use std::path::PathBuf;
use std::sync::{Arc, PoisonError};
use std::time::{Duration, Instant};

use axum::Json;
use axum::extract::rejection::PathRejection;
use axum::extract::{Path, State};
use axum::response::Response;
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use super::problem::Problem;
use super::read::fresh;
use super::room::Room;
use crate::logbook::{
    DayFigures, DayFound, LogbookError, Reader, SeasonSums, Timeline, figures, timeline,
};

/// Days are counted for so long before a request for their sums is answered.
const COUNT_FOR: Duration = Duration::from_millis(150);

/// A day: its figures, and what happened in order.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DayAnswer {
    /// Its figures.
    pub figures: DayFigures,
    /// What happened.
    pub timeline: Timeline,
}

/// All days of the logbook, the latest first. Today's is a few seconds behind, and does not tell of
/// what is under way for less than a minute.
#[utoipa::path(get, path = "/v1/days", tag = "logbook",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "The days", body = Vec<DayFound>),
        (status = 404, description = "There is no logbook", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn days(State(room): State<Arc<Room>>) -> Result<Response, Problem> {
    let days = read(&room, |reader| reader.days()).await?;
    Ok(fresh(Json(days)))
}

/// One day: its figures and what happened in order.
#[utoipa::path(get, path = "/v1/days/{day}", tag = "logbook",
    security((), ("phone" = ["look"])),
    params(("day" = String, Path, format = Date, description = "Date where the boat was: 2026-06-01")),
    responses((status = 200, description = "The day", body = DayAnswer),
        (status = 404, description = "There is no logbook, or nothing in it of that day",
            body = Problem, content_type = "application/problem+json")))]
pub(super) async fn day(
    State(room): State<Arc<Room>>,
    day: Result<Path<String>, PathRejection>,
) -> Result<Response, Problem> {
    let (day, date) = date_of(day)?;
    let answer = read(&room, move |reader| {
        let rows = reader.day(date)?;
        Ok(rows.map(|rows| DayAnswer {
            figures: figures(&rows),
            timeline: timeline(&rows),
        }))
    })
    .await?;
    match answer {
        Some(answer) => Ok(fresh(Json(answer))),
        None => Err(Problem::no_such_day(&day)),
    }
}

/// Figures over all days: together, by kite, by wind and by month. Each day is counted once, and again
/// when it has changed; the first answers may come before all are counted, and then hold no sums.
#[utoipa::path(get, path = "/v1/days/sums", tag = "logbook",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "The sums, or how many days are counted", body = SeasonSums),
        (status = 404, description = "There is no logbook", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn sums(State(room): State<Arc<Room>>) -> Result<Response, Problem> {
    let season = Arc::clone(&room.season);
    let sums = read(&room, move |reader| {
        // What is counted stays right when counting was given up.
        let mut season = season.lock().unwrap_or_else(PoisonError::into_inner);
        let began = Instant::now();
        season.count(reader, || began.elapsed() >= COUNT_FOR)
    })
    .await?;
    Ok(fresh(Json(sums)))
}

/// The day of a path, as it was sent and as a date.
pub(super) fn date_of(
    day: Result<Path<String>, PathRejection>,
) -> Result<(String, NaiveDate), Problem> {
    let Path(day) = day.map_err(|rejection| Problem::unreadable_path(&rejection.body_text()))?;
    let date = day.parse().map_err(|_| Problem::no_date(&day))?;
    Ok((day, date))
}

/// Reads the logbook where waiting for a disk holds nobody up.
pub(super) async fn read<T: Send + 'static>(
    room: &Room,
    what: impl FnOnce(&Reader) -> Result<T, LogbookError> + Send + 'static,
) -> Result<T, Problem> {
    let file = room.sources.logbook.borrow().file.clone();
    let path = file
        .map(PathBuf::from)
        .ok_or_else(|| Problem::no_logbook("a demo or a replay keeps no logbook"))?;
    let reading = tokio::task::spawn_blocking(move || what(&Reader::open(&path)?));
    match reading.await {
        Ok(Ok(read)) => Ok(read),
        Ok(Err(error @ LogbookError::Absent { .. })) => {
            Err(Problem::no_logbook(&error.to_string()))
        }
        Ok(Err(error)) => Err(Problem::logbook_unreadable(&error.to_string())),
        Err(_) => Err(Problem::logbook_unreadable("reading it was given up")),
    }
}
