//! The list of all metrics with their meaning.

/// Name, type and meaning of every metric.
pub(super) const METRICS: &[(&str, &str, &str)] = &[
    (
        "skimwatch_build_info",
        "gauge",
        "Always 1; the version is a label.",
    ),
    (
        "skimwatch_mode_info",
        "gauge",
        "Always 1; what drives the engine (live, replay, demo) is a label.",
    ),
    (
        "skimwatch_clock_speed_ratio",
        "gauge",
        "Seconds of engine time in a second on the wall.",
    ),
    (
        "skimwatch_engine_time_seconds",
        "gauge",
        "Engine time of the last tick, Unix seconds.",
    ),
    (
        "skimwatch_tick_age_seconds",
        "gauge",
        "Seconds on the wall since the last tick.",
    ),
    (
        "skimwatch_lag_seconds",
        "gauge",
        "Seconds by which the last picture is older than the clock that drives the engine.",
    ),
    (
        "skimwatch_pictures_total",
        "counter",
        "Pictures since the start.",
    ),
    (
        "skimwatch_feed_sentences_accepted_total",
        "counter",
        "Sentences accepted, by feed.",
    ),
    (
        "skimwatch_feed_sentences_refused_total",
        "counter",
        "Sentences refused, by feed and cause.",
    ),
    (
        "skimwatch_feed_sentences_kind_total",
        "counter",
        "Sentences by feed and kind.",
    ),
    (
        "skimwatch_feed_silence_seconds",
        "gauge",
        "Seconds since the last accepted sentence, by feed.",
    ),
    (
        "skimwatch_feed_longest_silence_seconds",
        "gauge",
        "Longest silence so far, by feed.",
    ),
    (
        "skimwatch_feed_rate_hertz",
        "gauge",
        "Accepted sentences a second over the last 10 s, by feed.",
    ),
    (
        "skimwatch_reading_age_seconds",
        "gauge",
        "Age of each believed value.",
    ),
    (
        "skimwatch_missing_quantities",
        "gauge",
        "Quantities that the forecast lacks.",
    ),
    (
        "skimwatch_forecast_available",
        "gauge",
        "1 when there is a forecast, else 0.",
    ),
    (
        "skimwatch_forecast_age_seconds",
        "gauge",
        "Age of the forecast.",
    ),
    (
        "skimwatch_forecast_futures",
        "gauge",
        "Members of the ensemble.",
    ),
    (
        "skimwatch_forecast_chance_ratio",
        "gauge",
        "Chance of each trouble within the horizon.",
    ),
    (
        "skimwatch_advisories_living",
        "gauge",
        "Living advisories, by priority.",
    ),
    (
        "skimwatch_advisory_revisions_total",
        "counter",
        "Advisory revisions since the start.",
    ),
    (
        "skimwatch_crew_inputs_total",
        "counter",
        "Crew inputs posted, by result.",
    ),
    (
        "skimwatch_recorder_state",
        "gauge",
        "1 for the state that recording is in (off, idle, recording, failing), 0 for the others.",
    ),
    (
        "skimwatch_recorder_lines_total",
        "counter",
        "Lines written to recordings.",
    ),
    (
        "skimwatch_recorder_lost_lines_total",
        "counter",
        "Lines that could not be written to a recording.",
    ),
    (
        "skimwatch_recorder_waiting_lines",
        "gauge",
        "Lines of the crew that wait in memory until writing succeeds again.",
    ),
    (
        "skimwatch_recorder_deleted_files_total",
        "counter",
        "Old recordings deleted to stay within the total.",
    ),
    (
        "skimwatch_outlet_state",
        "gauge",
        "1 for the state that telling other devices is in (beginning, working, failing), 0 for the \
         others, by kind (webhook, mqtt).",
    ),
    (
        "skimwatch_outlet_revisions_total",
        "counter",
        "Revisions for other devices, by kind and result: sent, skipped (a later one had come).",
    ),
    (
        "skimwatch_outlet_failures_total",
        "counter",
        "Tries to tell other devices that failed, by kind.",
    ),
    (
        "skimwatch_outlet_failing_seconds",
        "gauge",
        "Seconds for which telling other devices has failed, by kind; 0 while it does not.",
    ),
    (
        "skimwatch_http_requests_total",
        "counter",
        "Requests answered, by route and status.",
    ),
    (
        "skimwatch_http_busy_total",
        "counter",
        "Requests turned away because too many were at work or one took too long.",
    ),
    (
        "skimwatch_stream_readers",
        "gauge",
        "Open event streams, by stream.",
    ),
    (
        "skimwatch_stream_events_total",
        "counter",
        "States and revisions handed to readers, by stream. A reader is shown the newest state and \
         may skip some; revisions are all handed to each.",
    ),
    (
        "skimwatch_stream_refused_total",
        "counter",
        "Event streams refused because all were taken.",
    ),
    (
        "skimwatch_stream_dropped_total",
        "counter",
        "Clients dropped, by cause: lagged (too many revisions behind), stalled (took no bytes), \
         displaced (one with fewer streams came when all were taken).",
    ),
    (
        "skimwatch_connections_closed_total",
        "counter",
        "Connections closed when all seats were taken, by cause: displaced (a client with fewer \
         came, or it was idle), full (its client had most, and all at work).",
    ),
    (
        "skimwatch_tls_handshakes_failed_total",
        "counter",
        "Connections closed because they did not agree on encryption in time.",
    ),
    (
        "skimwatch_http_too_fast_total",
        "counter",
        "Posts refused because too many came, by whose: client (one), all (together).",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_counters_end_in_total() {
        let mut seen = std::collections::BTreeSet::new();
        for (name, kind, help) in METRICS {
            assert!(seen.insert(name), "{name} twice");
            assert!(name.starts_with("skimwatch_"), "{name}");
            assert_eq!(*kind == "counter", name.ends_with("_total"), "{name}");
            assert!(help.ends_with('.'), "{name}");
        }
    }
}
