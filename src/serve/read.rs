//! What can be read: state, advisories, forecast, health.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;

use super::problem::Problem;
use super::recorder::RecorderAnswer;
use super::room::Room;
use super::state::StateAnswer;
use crate::advice::Advisory;
use crate::engine::{LATE_S, Mode, Snapshot};
use crate::forecast::Forecast;
use crate::time::Millis;

/// The forecast, or why there is none.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ForecastAnswer<'a> {
    /// The next two minutes; `null` when there is none. Numbers are rounded to a thousandth.
    pub forecast: Option<&'a Forecast>,
    /// Why there is none, with what would cure it; empty when there is one.
    pub reasons: &'a [String],
}

impl<'a> ForecastAnswer<'a> {
    pub(super) fn new(snapshot: &'a Snapshot) -> Self {
        match &snapshot.forecast {
            Ok(forecast) => Self {
                forecast: Some(forecast),
                reasons: &[],
            },
            Err(none) => Self {
                forecast: None,
                reasons: &none.reasons,
            },
        }
    }

    /// As JSON with numbers to a thousandth: a forecast is long, and a page reads one a second.
    pub(super) fn to_json(&self) -> Result<Value, serde_json::Error> {
        let mut value = serde_json::to_value(self)?;
        round_to_thousandths(&mut value);
        Ok(value)
    }
}

fn round_to_thousandths(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let rounded = number.as_f64().map(|x| (x * 1000.0).round() / 1000.0);
            if let Some(rounded) = rounded.and_then(serde_json::Number::from_f64) {
                *number = rounded;
            }
        }
        Value::Array(items) => items.iter_mut().for_each(round_to_thousandths),
        Value::Object(fields) => fields.values_mut().for_each(round_to_thousandths),
        _ => {}
    }
}

/// How the program itself fares.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Health {
    /// Whether pictures keep coming, none older than 3 s.
    pub ticking: bool,
    /// Seconds on the wall since the last tick.
    pub since_tick_s: f64,
    /// Seconds by which the last picture is older than the clock.
    pub lag_s: f64,
    /// Moment of the last tick.
    #[schema(value_type = String, format = DateTime)]
    pub at: Millis,
    /// What drives it.
    pub mode: Mode,
    /// Whether there is a forecast.
    pub forecast: bool,
    /// Whether what is heard reaches a recording. Advice goes on without.
    pub recorder: RecorderAnswer,
    /// Version of the program.
    pub version: &'static str,
}

/// Everything at the moment of the last tick.
#[utoipa::path(get, path = "/v1/state", tag = "read",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "The state", body = StateAnswer)))]
pub(super) async fn state(State(room): State<Arc<Room>>) -> Response {
    fresh(Json(room.state()))
}

/// Living advisories, most pressing first.
#[utoipa::path(get, path = "/v1/advisories", tag = "read",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "Living advisories", body = Vec<Advisory>)))]
pub(super) async fn advisories(State(room): State<Arc<Room>>) -> Response {
    fresh(Json(&room.snapshot().advisories))
}

/// The next two minutes: bait height band, kite elevation and bearing, chances, plan, limits.
#[utoipa::path(get, path = "/v1/forecast", tag = "read",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "The forecast, or why there is none",
        body = inline(ForecastAnswer)), (status = 500, description = "It could not be written",
        body = Problem, content_type = "application/problem+json")))]
pub(super) async fn forecast(State(room): State<Arc<Room>>) -> Result<Response, Problem> {
    let answer = ForecastAnswer::new(&room.snapshot())
        .to_json()
        .map_err(|error| Problem::unwritable(&error))?;
    Ok(fresh(Json(answer)))
}

/// Whether the program keeps up: 200 when it does, 503 when what it shows is late.
#[utoipa::path(get, path = "/healthz", tag = "watch over it",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "It keeps up", body = Health),
        (status = 503, description = "What it shows is more than 3 s old", body = Health)))]
pub(super) async fn health(State(room): State<Arc<Room>>) -> Response {
    let snapshot = room.snapshot();
    let (since_tick_s, lag_s) = (room.since_tick().as_secs_f64(), room.lag_s());
    let health = Health {
        ticking: lag_s <= LATE_S,
        since_tick_s,
        lag_s,
        at: snapshot.at,
        mode: snapshot.mode,
        forecast: snapshot.forecast.is_ok(),
        recorder: RecorderAnswer::new(&room.sources),
        version: env!("CARGO_PKG_VERSION"),
    };
    let status = if health.ticking {
        StatusCode::OK
    } else {
        StatusCode::SERVICE_UNAVAILABLE
    };
    (status, fresh(Json(health))).into_response()
}

/// An answer that no cache may keep.
pub(super) fn fresh(answer: impl IntoResponse) -> Response {
    let mut response = answer.into_response();
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}
