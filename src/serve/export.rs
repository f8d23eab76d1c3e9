//! A day of the logbook in open formats.

use std::sync::Arc;

use axum::extract::rejection::{PathRejection, QueryRejection};
use axum::extract::{Path, Query, State};
use axum::http::{HeaderValue, header};
use axum::response::Response;
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

use super::days::{date_of, read};
use super::problem::Problem;
use super::read::fresh;
use super::room::Room;
use crate::logbook::{
    DayRows, ExportError, Positions, TABLES, csv, geojson, gpx, parquet, table_of,
};

/// An open format.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(super) enum ExportFormat {
    /// GPX 1.1: tracks of boat and bait; bites and marks as waypoints.
    Gpx,
    /// GeoJSON (RFC 7946): the same, with what was known at each bite, and passes.
    #[default]
    Geojson,
    /// One table as CSV.
    Csv,
    /// One table as Apache Parquet.
    Parquet,
}

/// What is told of positions.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(super) enum ExportPositions {
    /// All.
    #[default]
    Exact,
    /// Rounded to a tenth of a degree; nothing of where the bait was, no names of marks.
    Coarse,
    /// Nothing, and no names of marks.
    None,
}

/// What is wanted of the day.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[serde(default, deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct ExportQuery {
    /// The format; GeoJSON without it.
    #[param(inline)]
    format: Option<ExportFormat>,
    /// The table, for CSV and Parquet: states, spans, bites, advisories, line_moves, bait_told,
    /// mark_changes or passes. `skimwatch logbook columns` tells what is in them.
    table: Option<String>,
    /// What is told of positions; all without it.
    #[param(inline)]
    positions: Option<ExportPositions>,
}

/// One day in an open format, as a file.
#[utoipa::path(get, path = "/v1/days/{day}/export", tag = "logbook",
    security((), ("phone" = ["look"])),
    params(("day" = String, Path, format = Date, description = "Date where the boat was: 2026-06-01"),
        ExportQuery),
    responses((status = 200, description = "The file", content(
            (serde_json::Value = "application/geo+json"), (String = "application/gpx+xml"),
            (String = "text/csv"), (String = "application/vnd.apache.parquet"))),
        (status = 404, description = "There is no logbook, or nothing in it of that day",
            body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "The format needs a table or positions", body = Problem,
            content_type = "application/problem+json")))]
pub(super) async fn export(
    State(room): State<Arc<Room>>,
    day: Result<Path<String>, PathRejection>,
    query: Result<Query<ExportQuery>, QueryRejection>,
) -> Result<Response, Problem> {
    let (day, date) = date_of(day)?;
    let Query(query) = query.map_err(|why| Problem::unreadable_query(&why.body_text()))?;
    let format = query.format.unwrap_or_default();
    let positions = match query.positions.unwrap_or_default() {
        ExportPositions::Exact => Positions::Exact,
        ExportPositions::Coarse => Positions::Coarse,
        ExportPositions::None => Positions::Without,
    };
    let table = format.table(query.table.as_deref(), positions)?;
    let file = read(&room, move |reader| {
        let rows = reader.day(date)?;
        Ok(rows.map(|rows| format.file(&[positions.of(rows)], table)))
    })
    .await?
    .ok_or_else(|| Problem::no_such_day(&day))?
    .map_err(|why| Problem::not_exported(&why.to_string()))?;
    let name = match table {
        Some(table) => format!("{date}-{table}.{}", format.ending()),
        None => format!("{date}.{}", format.ending()),
    };
    let mut response = fresh(file);
    let headers = response.headers_mut();
    let kind = HeaderValue::from_static(format.content_type());
    headers.insert(header::CONTENT_TYPE, kind);
    if let Ok(named) = HeaderValue::try_from(format!("attachment; filename=\"{name}\"")) {
        headers.insert(header::CONTENT_DISPOSITION, named);
    }
    Ok(response)
}

impl ExportFormat {
    fn ending(self) -> &'static str {
        match self {
            Self::Gpx => "gpx",
            Self::Geojson => "geojson",
            Self::Csv => "csv",
            Self::Parquet => "parquet",
        }
    }

    fn content_type(self) -> &'static str {
        match self {
            Self::Gpx => "application/gpx+xml",
            Self::Geojson => "application/geo+json",
            Self::Csv => "text/csv; charset=utf-8",
            Self::Parquet => "application/vnd.apache.parquet",
        }
    }

    /// The table that is wanted; `None` for formats that hold all.
    fn table(
        self,
        name: Option<&str>,
        positions: Positions,
    ) -> Result<Option<&'static str>, Problem> {
        let all = || format!("send table as one of: {}", TABLES.join(", "));
        match (self, name) {
            (Self::Gpx, _) if positions == Positions::Without => Err(Problem::incomplete(
                "positions",
                "a GPX file is made of positions",
                "send another format, or coarse positions",
            )),
            (Self::Gpx | Self::Geojson, None) => Ok(None),
            (Self::Gpx | Self::Geojson, Some(_)) => Err(Problem::incomplete(
                "table",
                "this format holds all of the day",
                "leave table out, or send csv or parquet as format",
            )),
            (Self::Csv | Self::Parquet, name) => TABLES
                .into_iter()
                .find(|table| Some(*table) == name)
                .map(Some)
                .ok_or_else(|| Problem::incomplete("table", "this format holds one table", &all())),
        }
    }

    /// The file of days.
    fn file(self, days: &[DayRows], table: Option<&str>) -> Result<Vec<u8>, ExportError> {
        let table = table.and_then(|name| table_of(days, name));
        match (self, table) {
            (Self::Csv, Some(table)) => Ok(csv(&table).into_bytes()),
            (Self::Parquet, Some(table)) => parquet(&table),
            (Self::Gpx, _) => gpx(days).map(String::into_bytes),
            _ => Ok(geojson(days).into_bytes()),
        }
    }
}
