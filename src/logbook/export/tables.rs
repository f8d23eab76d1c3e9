//! CSV, one table a file.

use serde::Serialize;
use serde_json::Value;

use super::super::day::{DayRows, SessionRows};
use super::super::place::Place;

/// One table as a CSV file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Its name, for that of the file: "bites".
    pub name: &'static str,
    /// The file.
    pub text: String,
}

type Rows = fn(&SessionRows) -> Vec<Vec<String>>;

/// Each table: its name, its columns, its rows.
const TABLES: [(&str, &[&str], Rows); 8] = [
    (
        "states",
        &[
            "at",
            "latitude_deg",
            "longitude_deg",
            "heading_deg_true",
            "rate_of_turn_deg_s",
            "speed_water_mps",
            "speed_ground_mps",
            "course_deg_true",
            "wind_at_sensor_mps",
            "wind_from_deg_true",
            "kite_line_m",
            "main_line_m",
            "doing",
            "bait",
            "bait_told",
            "kite_elevation_deg",
            "kite_off_astern_deg",
            "immersion",
            "bait_latitude_deg",
            "bait_longitude_deg",
        ],
        states,
    ),
    (
        "spans",
        &["from", "to", "doing", "bait", "point_of_sail", "tack"],
        spans,
    ),
    (
        "bites",
        &[
            "at",
            "result",
            "result_at",
            "latitude_deg",
            "longitude_deg",
            "heading_deg_true",
            "speed_water_mps",
            "wind_at_sensor_mps",
            "wind_from_deg_true",
            "kite_line_m",
            "main_line_m",
            "bait",
            "kite_elevation_deg",
            "kite_off_astern_deg",
        ],
        bites,
    ),
    (
        "advisories",
        &[
            "advisory",
            "kind",
            "title",
            "raised_at",
            "ended_at",
            "outcome",
            "revisions",
        ],
        advisories,
    ),
    ("line_moves", &["at", "line", "by_m", "asked_by"], moves),
    ("bait_told", &["at", "bait"], taps),
    (
        "mark_changes",
        &[
            "at",
            "number",
            "event",
            "marked_at",
            "source",
            "name",
            "as_of",
            "latitude_deg",
            "longitude_deg",
            "set_deg_true",
            "drift_mps",
            "sigma_m",
        ],
        marks,
    ),
    (
        "passes",
        &[
            "mark",
            "number",
            "offered_at",
            "chance",
            "chance_of_marked",
            "closest_foreseen_m",
            "accepted_at",
            "ended_at",
            "ended",
            "closest_m",
            "closest_at",
            "skipping_share",
        ],
        passes,
    ),
];

/// Days as tables.
#[must_use]
pub fn tables(days: &[DayRows]) -> Vec<Table> {
    let sessions = || days.iter().flat_map(|day| &day.sessions);
    TABLES
        .iter()
        .map(|(name, columns, rows)| {
            let mut file = csv::Writer::from_writer(Vec::new());
            // Writing to memory cannot fail, and all rows have as many fields.
            let _ = file.write_record(*columns);
            for row in sessions().flat_map(rows) {
                let _ = file.write_record(row);
            }
            let bytes = file.into_inner().unwrap_or_default();
            Table {
                name,
                text: String::from_utf8_lossy(&bytes).into_owned(),
            }
        })
        .collect()
}

/// A value as JSON writes it, without quotes; empty for none.
pub(super) fn word(value: &impl Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(Value::String(text)) => text,
        Ok(Value::Null) | Err(_) => String::new(),
        Ok(other) => other.to_string(),
    }
}

fn states(session: &SessionRows) -> Vec<Vec<String>> {
    let row = |s: &super::super::rows::State| {
        let bait = Place::of_bait(s).map(Place::rounded);
        vec![
            word(&s.at),
            word(&s.latitude_deg),
            word(&s.longitude_deg),
            word(&s.heading_deg_true),
            word(&s.rate_of_turn_deg_s),
            word(&s.speed_water_mps),
            word(&s.speed_ground_mps),
            word(&s.course_deg_true),
            word(&s.wind_at_sensor_mps),
            word(&s.wind_from_deg_true),
            word(&s.kite_line_m),
            word(&s.main_line_m),
            word(&s.doing),
            word(&s.bait),
            word(&s.bait_told),
            word(&s.kite_elevation_deg),
            word(&s.kite_off_astern_deg),
            word(&s.immersion),
            word(&bait.map(|place| place.latitude_deg)),
            word(&bait.map(|place| place.longitude_deg)),
        ]
    };
    session.states.iter().map(row).collect()
}

fn spans(session: &SessionRows) -> Vec<Vec<String>> {
    let spans = session.spans.iter();
    spans
        .map(|s| {
            vec![
                word(&s.from),
                word(&s.to),
                word(&s.doing),
                word(&s.bait),
                word(&s.point_of_sail),
                word(&s.tack),
            ]
        })
        .collect()
}

fn bites(session: &SessionRows) -> Vec<Vec<String>> {
    let bites = session.bites.iter();
    bites
        .map(|bite| {
            let s = &bite.state;
            vec![
                word(&bite.at),
                word(&bite.result.map(|(result, _)| result)),
                word(&bite.result.map(|(_, at)| at)),
                word(&s.latitude_deg),
                word(&s.longitude_deg),
                word(&s.heading_deg_true),
                word(&s.speed_water_mps),
                word(&s.wind_at_sensor_mps),
                word(&s.wind_from_deg_true),
                word(&s.kite_line_m),
                word(&s.main_line_m),
                word(&s.bait),
                word(&s.kite_elevation_deg),
                word(&s.kite_off_astern_deg),
            ]
        })
        .collect()
}

fn advisories(session: &SessionRows) -> Vec<Vec<String>> {
    let advisories = session.advisories.iter();
    advisories
        .map(|a| {
            vec![
                a.id.clone(),
                word(&a.kind),
                a.title.clone(),
                word(&a.raised_at),
                word(&a.ended.map(|(at, _)| at)),
                word(&a.ended.map(|(_, outcome)| outcome)),
                a.revisions.to_string(),
            ]
        })
        .collect()
}

fn moves(session: &SessionRows) -> Vec<Vec<String>> {
    let moves = session.moves.iter();
    moves
        .map(|m| vec![word(&m.at), word(&m.line), word(&m.by_m), word(&m.asked_by)])
        .collect()
}

fn taps(session: &SessionRows) -> Vec<Vec<String>> {
    let taps = session.bait_told.iter();
    taps.map(|(at, bait)| vec![word(at), word(bait)]).collect()
}

fn marks(session: &SessionRows) -> Vec<Vec<String>> {
    let changes = session.mark_changes.iter();
    changes
        .map(|m| {
            vec![
                word(&m.at),
                word(&m.number),
                word(&m.event),
                word(&m.marked_at),
                word(&m.source),
                word(&m.name),
                word(&m.as_of),
                word(&m.latitude_deg),
                word(&m.longitude_deg),
                word(&m.set_deg_true),
                word(&m.drift_mps),
                word(&m.sigma_m),
            ]
        })
        .collect()
}

fn passes(session: &SessionRows) -> Vec<Vec<String>> {
    let passes = session.passes.iter();
    passes
        .map(|p| {
            vec![
                word(&p.mark),
                word(&p.number),
                word(&p.offered_at),
                word(&p.chance),
                word(&p.chance_of_marked),
                word(&p.closest_foreseen_m),
                word(&p.accepted_at),
                word(&p.ended_at),
                word(&p.ended),
                word(&p.closest_m),
                word(&p.closest_at),
                word(&p.skipping_share),
            ]
        })
        .collect()
}
