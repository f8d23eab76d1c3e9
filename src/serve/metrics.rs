//! `/metrics`: Prometheus text over the same snapshot as everything else, and the counters of
//! the HTTP room itself. [`METRICS`] is the list of all of them with their meaning.

use std::collections::BTreeMap;
use std::fmt::{Display, Write};
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};

use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};

use super::counters::{Counters, StreamKind};
use super::metric_list::METRICS;
use super::read::fresh;
use super::recorder::{RecorderAnswer, RecorderState};
use super::room::Room;
use super::sources::{OutletNow, OutletState};
use crate::engine::Snapshot;
use crate::time::Millis;

/// Metrics in the Prometheus text format.
#[utoipa::path(get, path = "/metrics", tag = "watch over it",
    security((), ("phone" = ["look"])),
    responses((status = 200, description = "Prometheus text format 0.0.4",
        content_type = "text/plain", body = String)))]
pub(super) async fn metrics(State(room): State<Arc<Room>>) -> Response {
    let mut response = fresh(exposition(&room).into_response());
    response.headers_mut().insert(
        header::CONTENT_TYPE,
        HeaderValue::from_static("text/plain; version=0.0.4; charset=utf-8"),
    );
    response
}

/// Samples by metric, in the order of [`METRICS`].
struct Samples(BTreeMap<&'static str, String>);

impl Samples {
    fn add(&mut self, name: &'static str, labels: &[(&str, &str)], value: impl Display) {
        let line = self.0.entry(name).or_default();
        line.push_str(name);
        for (i, (key, text)) in labels.iter().enumerate() {
            let open = if i == 0 { '{' } else { ',' };
            // Writing to a string cannot fail.
            let _ = write!(line, "{open}{key}=\"{}\"", escaped(text));
        }
        if !labels.is_empty() {
            line.push('}');
        }
        let _ = writeln!(line, " {value}");
    }
}

fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\")
        .replace('"', "\\\"")
        .replace('\n', "\\n")
}

fn exposition(room: &Room) -> String {
    let snapshot = room.snapshot();
    let mut samples = Samples(BTreeMap::new());
    engine(&mut samples, &snapshot);
    samples.add(
        "skimwatch_tick_age_seconds",
        &[],
        room.since_tick().as_secs_f64(),
    );
    samples.add("skimwatch_lag_seconds", &[], room.lag_s());
    samples.add(
        "skimwatch_pictures_total",
        &[],
        room.sources.revisions.pictures(),
    );
    samples.add(
        "skimwatch_advisory_revisions_total",
        &[],
        room.sources.revisions.published(),
    );
    recorder(&mut samples, &RecorderAnswer::new(&room.sources));
    outlets(&mut samples, &room.sources.outlets_now(), snapshot.at);
    own(&mut samples, &room.counters);
    let mut text = String::new();
    for (name, kind, help) in METRICS {
        let _ = writeln!(text, "# HELP {name} {help}\n# TYPE {name} {kind}");
        if let Some(lines) = samples.0.get(name) {
            text.push_str(lines);
        }
    }
    text
}

/// Serialises a plain enum to the name it has in the API.
fn api_name(value: &impl serde::Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(name)) => name,
        _ => String::new(),
    }
}

fn engine(samples: &mut Samples, snapshot: &Snapshot) {
    let version = env!("CARGO_PKG_VERSION");
    samples.add("skimwatch_build_info", &[("version", version)], 1);
    let mode = api_name(&snapshot.mode);
    samples.add("skimwatch_mode_info", &[("mode", &mode)], 1);
    samples.add("skimwatch_clock_speed_ratio", &[], snapshot.clock_speed);
    let unix_s = snapshot.at.0 as f64 / 1000.0;
    samples.add("skimwatch_engine_time_seconds", &[], unix_s);
    feeds(samples, snapshot);
    readings(samples, snapshot);
    forecast(samples, snapshot);
    for priority in ["alarm", "warning", "caution"] {
        let count = snapshot
            .advisories
            .iter()
            .filter(|a| api_name(&a.priority) == priority)
            .count();
        samples.add(
            "skimwatch_advisories_living",
            &[("priority", priority)],
            count,
        );
    }
}

fn feeds(samples: &mut Samples, snapshot: &Snapshot) {
    for feed in &snapshot.feeds {
        let by_feed = [("feed", feed.name.as_str())];
        samples.add(
            "skimwatch_feed_sentences_accepted_total",
            &by_feed,
            feed.accepted,
        );
        for (cause, count) in &feed.refused {
            let labels = [("feed", feed.name.as_str()), ("cause", cause.name())];
            samples.add("skimwatch_feed_sentences_refused_total", &labels, count);
        }
        for (kind, count) in &feed.kinds {
            let labels = [("feed", feed.name.as_str()), ("kind", kind)];
            samples.add("skimwatch_feed_sentences_kind_total", &labels, count);
        }
        if let Some(last) = feed.last_at {
            let age = snapshot.at.seconds_since(last);
            samples.add("skimwatch_feed_silence_seconds", &by_feed, age);
        }
        let gap = feed.longest_gap_s;
        samples.add("skimwatch_feed_longest_silence_seconds", &by_feed, gap);
        samples.add("skimwatch_feed_rate_hertz", &by_feed, feed.rate_hz);
    }
}

fn readings(samples: &mut Samples, snapshot: &Snapshot) {
    let vessel = &snapshot.vessel;
    let at = snapshot.at;
    let ages = [
        (
            "heading",
            vessel.heading_true_rad.as_ref().map(|r| r.age_s(at)),
        ),
        (
            "rate_of_turn",
            vessel.rate_of_turn_rad_s.as_ref().map(|r| r.age_s(at)),
        ),
        (
            "speed_water",
            vessel.speed_water_mps.as_ref().map(|r| r.age_s(at)),
        ),
        (
            "speed_ground",
            vessel.speed_ground_mps.as_ref().map(|r| r.age_s(at)),
        ),
        (
            "course",
            vessel.course_true_rad.as_ref().map(|r| r.age_s(at)),
        ),
        ("position", vessel.position.as_ref().map(|r| r.age_s(at))),
        ("rudder", vessel.rudder_rad.as_ref().map(|r| r.age_s(at))),
        (
            "apparent_wind",
            vessel.apparent_wind.as_ref().map(|r| r.age_s(at)),
        ),
        ("true_wind", vessel.true_wind.as_ref().map(|r| r.age_s(at))),
        (
            "variation",
            vessel.variation_rad.as_ref().map(|r| r.age_s(at)),
        ),
    ];
    for (quantity, age) in ages {
        if let Some(age) = age {
            samples.add(
                "skimwatch_reading_age_seconds",
                &[("quantity", quantity)],
                age,
            );
        }
    }
    samples.add("skimwatch_missing_quantities", &[], vessel.missing.len());
}

fn forecast(samples: &mut Samples, snapshot: &Snapshot) {
    samples.add(
        "skimwatch_forecast_available",
        &[],
        u8::from(snapshot.forecast.is_ok()),
    );
    if let Ok(forecast) = &snapshot.forecast {
        let age = snapshot.at.seconds_since(forecast.made_at);
        samples.add("skimwatch_forecast_age_seconds", &[], age);
        samples.add("skimwatch_forecast_futures", &[], forecast.futures);
        for chance in &forecast.chances {
            let kind = api_name(&chance.kind);
            let labels = [("kind", kind.as_str())];
            samples.add("skimwatch_forecast_chance_ratio", &labels, chance.chance);
        }
    }
}

fn recorder(samples: &mut Samples, answer: &RecorderAnswer) {
    for (state, name) in RecorderState::NAMES {
        let is_so = u8::from(state == answer.state);
        samples.add("skimwatch_recorder_state", &[("state", name)], is_so);
    }
    for (name, value) in [
        ("skimwatch_recorder_lines_total", answer.lines),
        ("skimwatch_recorder_lost_lines_total", answer.lost_lines),
        ("skimwatch_recorder_waiting_lines", answer.waiting_lines),
        (
            "skimwatch_recorder_deleted_files_total",
            answer.deleted_files,
        ),
    ] {
        samples.add(name, &[], value);
    }
}

fn outlets(samples: &mut Samples, outlets: &[OutletNow], at: Millis) {
    const REVISIONS: &str = "skimwatch_outlet_revisions_total";
    for outlet in outlets {
        let kind = api_name(&outlet.kind);
        let kind = ("kind", kind.as_str());
        for (state, name) in OutletState::NAMES {
            let is_so = u8::from(state == outlet.state);
            samples.add("skimwatch_outlet_state", &[kind, ("state", name)], is_so);
        }
        samples.add(REVISIONS, &[kind, ("result", "sent")], outlet.sent);
        samples.add(REVISIONS, &[kind, ("result", "skipped")], outlet.skipped);
        samples.add("skimwatch_outlet_failures_total", &[kind], outlet.failed);
        let failing_s = (outlet.failing_since).map_or(0.0, |since| at.seconds_since(since));
        samples.add("skimwatch_outlet_failing_seconds", &[kind], failing_s);
    }
}

fn own(samples: &mut Samples, counters: &Counters) {
    let taken = counters.crew_taken.load(Ordering::Relaxed);
    let refused = counters.crew_refused.load(Ordering::Relaxed);
    samples.add("skimwatch_crew_inputs_total", &[("result", "taken")], taken);
    samples.add(
        "skimwatch_crew_inputs_total",
        &[("result", "refused")],
        refused,
    );
    let requests = counters
        .requests
        .lock()
        .unwrap_or_else(PoisonError::into_inner);
    for ((route, status), count) in requests.iter() {
        let status = status.to_string();
        let labels = [("route", route.as_str()), ("status", status.as_str())];
        samples.add("skimwatch_http_requests_total", &labels, count);
    }
    let busy = counters.busy.load(Ordering::Relaxed);
    samples.add("skimwatch_http_busy_total", &[], busy);
    for (stream, kind) in [
        ("advisories", StreamKind::Advisories),
        ("state", StreamKind::State),
    ] {
        let readers = counters.readers(kind).load(Ordering::Relaxed);
        samples.add("skimwatch_stream_readers", &[("stream", stream)], readers);
        let handed = counters.handed(kind).load(Ordering::Relaxed);
        samples.add(
            "skimwatch_stream_events_total",
            &[("stream", stream)],
            handed,
        );
    }
    let turned_away = counters.streams_refused.load(Ordering::Relaxed);
    samples.add("skimwatch_stream_refused_total", &[], turned_away);
    let unagreed = counters.handshakes_failed.load(Ordering::Relaxed);
    samples.add("skimwatch_tls_handshakes_failed_total", &[], unagreed);
    let dropped = "skimwatch_stream_dropped_total";
    let closed = "skimwatch_connections_closed_total";
    let too_fast = "skimwatch_http_too_fast_total";
    for (name, label, value, counter) in [
        (dropped, "cause", "lagged", &counters.lagged),
        (dropped, "cause", "stalled", &counters.stalled),
        (dropped, "cause", "displaced", &counters.streams_displaced),
        (
            closed,
            "cause",
            "displaced",
            &counters.connections_displaced,
        ),
        (closed, "cause", "full", &counters.connections_full),
        (too_fast, "whose", "client", &counters.client_too_fast),
        (too_fast, "whose", "all", &counters.all_too_fast),
    ] {
        samples.add(name, &[(label, value)], counter.load(Ordering::Relaxed));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_escaped() {
        let mut samples = Samples(BTreeMap::new());
        samples.add("skimwatch_mode_info", &[("mode", "a\"b\\c\nd")], 1);
        assert_eq!(
            samples.0["skimwatch_mode_info"],
            "skimwatch_mode_info{mode=\"a\\\"b\\\\c\\nd\"} 1\n"
        );
    }
}
