//! What truly happened, as simulators write it beside a recording.
//! In: JSON. Out: checked rows and turns. Knows no events.

use serde::Deserialize;
use thiserror::Error;

use crate::decode::BaitState;
use crate::rig::DRAGGING_IMMERSION;

/// Columns that a truth must have, each with its least and greatest value.
const COLUMNS: [(&str, f64, f64); 4] = [
    ("t_s", 0.0, 1e7),
    ("immersion", 0.0, 1.0),
    ("kite_elevation_deg", -90.0, 90.0),
    ("main_line_out_m", 0.0, 5000.0),
];

/// A turn as it truly was.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct TruthTurn {
    /// Helm over, seconds after the first line.
    pub start_s: f64,
    /// Change of heading, + to starboard.
    pub by_deg: f64,
    /// Commanded rate.
    pub rate_deg_s: f64,
    /// How long ahead it was announced; `None` when it was not.
    pub told_ahead_s: Option<f64>,
}

/// True state at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruthRow {
    /// Seconds after the first line.
    pub t_s: f64,
    /// Immersion of the bait, 0 out of the water, 1 under.
    pub immersion: f64,
    /// Kite elevation.
    pub kite_elevation_deg: f64,
    /// Main line out.
    pub main_line_out_m: f64,
    /// In a sea, what the windows that contain this moment make of it; `None` on flat water, where
    /// immersion says it.
    pub at_sea: Option<BaitState>,
}

/// What truly happened. Rows are in order of time; there are two at least.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Turns, in order of time.
    pub turns: Vec<TruthTurn>,
    /// States, in order of time.
    pub rows: Vec<TruthRow>,
}

/// Why a truth was refused.
#[derive(Debug, Error)]
pub enum TruthError {
    /// Not JSON or a wrong type; the message names line and column.
    #[error("the truth cannot be read: {0}")]
    Json(#[from] serde_json::Error),
    /// A column is missing.
    #[error("the truth has no column {column:?}: name it in `columns` (found: {found})")]
    Column {
        /// Which.
        column: &'static str,
        /// What there is.
        found: String,
    },
    /// A value is wrong.
    #[error("the truth is refused: {place} = {value}: must be {allowed}")]
    Value {
        /// Where: `series[3].immersion`.
        place: String,
        /// What stands there.
        value: String,
        /// What may.
        allowed: String,
    },
}

#[derive(Deserialize)]
struct Raw {
    turns: Vec<TruthTurn>,
    columns: Vec<String>,
    series: Vec<Vec<Cell>>,
    /// Length of the window that ends at a moment and decides its `state`.
    window_s: Option<f64>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Cell {
    Number(f64),
    State(BaitState),
    /// No state before the first full window.
    Nothing(()),
}

impl Cell {
    fn number(&self) -> f64 {
        match self {
            Cell::Number(value) => *value,
            Cell::State(_) | Cell::Nothing(()) => f64::NAN,
        }
    }
}

impl Truth {
    /// Reads `{"turns": [{"start_s", "by_deg", "rate_deg_s", "told_ahead_s"}], "columns": [...],
    /// "series": [[...], ...]}`. Needed columns are `t_s`, `immersion`, `kite_elevation_deg` and
    /// `main_line_out_m`, in any order. In a sea a column `state` (`"airborne"`, `"skipping"`,
    /// `"dragging"`, `null`) tells what the bait did in the `window_s` seconds that end there. Other
    /// columns and keys are ignored.
    ///
    /// # Errors
    /// Names line and column of what cannot be read, or place, value and range of what is
    /// refused.
    pub fn from_json(text: &str) -> Result<Self, TruthError> {
        let raw: Raw = serde_json::from_str(text)?;
        let truth = Self {
            rows: rows(&raw)?,
            turns: raw.turns,
        };
        truth.check_turns()?;
        Ok(truth)
    }

    fn check_turns(&self) -> Result<(), TruthError> {
        let mut before_s = 0.0;
        for (i, turn) in self.turns.iter().enumerate() {
            let place = |key: &str| format!("turns[{i}].{key}");
            in_range(place("start_s"), turn.start_s, before_s, 1e7)?;
            in_range(place("by_deg"), turn.by_deg, -720.0, 720.0)?;
            in_range(place("rate_deg_s"), turn.rate_deg_s, 0.01, 60.0)?;
            if let Some(ahead) = turn.told_ahead_s {
                in_range(place("told_ahead_s"), ahead, 0.0, 3600.0)?;
            }
            before_s = turn.start_s;
        }
        Ok(())
    }
}

fn rows(raw: &Raw) -> Result<Vec<TruthRow>, TruthError> {
    let mut index = [0; COLUMNS.len()];
    for (slot, (column, ..)) in index.iter_mut().zip(COLUMNS) {
        *slot = raw
            .columns
            .iter()
            .position(|c| c == column)
            .ok_or_else(|| TruthError::Column {
                column,
                found: raw.columns.join(", "),
            })?;
    }
    if raw.series.len() < 2 {
        return Err(refused("series", raw.series.len(), "two rows at least"));
    }
    let mut rows: Vec<TruthRow> = Vec::with_capacity(raw.series.len());
    for (i, line) in raw.series.iter().enumerate() {
        if line.len() != raw.columns.len() {
            return Err(refused(
                format!("series[{i}]"),
                format!("{} numbers", line.len()),
                format!("{}, one for each column", raw.columns.len()),
            ));
        }
        let mut values = [0.0; COLUMNS.len()];
        for ((value, at), (column, least, most)) in values.iter_mut().zip(index).zip(COLUMNS) {
            *value = line.get(at).map_or(f64::NAN, Cell::number);
            in_range(format!("series[{i}].{column}"), *value, least, most)?;
        }
        let [t_s, immersion, kite_elevation_deg, main_line_out_m] = values;
        if let Some(last) = rows.last()
            && t_s <= last.t_s
        {
            return Err(refused(
                format!("series[{i}].t_s"),
                t_s,
                format!("later than the row before ({})", last.t_s),
            ));
        }
        rows.push(TruthRow {
            t_s,
            immersion,
            kite_elevation_deg,
            main_line_out_m,
            at_sea: None,
        });
    }
    let state = raw.columns.iter().position(|column| column == "state");
    if let Some(at) = state {
        by_windows(&mut rows, raw, at)?;
    }
    Ok(rows)
}

/// Carries the state of each window to the rows within it. An airborne window begins after the last
/// touch, so all of it is airborne; a dragging one drags from its first sample that is under.
fn by_windows(rows: &mut [TruthRow], raw: &Raw, at: usize) -> Result<(), TruthError> {
    let window_s = raw.window_s.unwrap_or(f64::NAN);
    in_range("window_s".to_owned(), window_s, 0.5, 120.0)?;
    for row in rows.iter_mut() {
        row.at_sea = Some(BaitState::Skipping);
    }
    for (i, line) in raw.series.iter().enumerate() {
        let state = match line.get(at) {
            Some(Cell::State(state)) => *state,
            Some(Cell::Nothing(())) => continue,
            Some(Cell::Number(value)) => {
                let allowed = "\"airborne\", \"skipping\", \"dragging\" or null";
                return Err(refused(format!("series[{i}].state"), value, allowed));
            }
            None => continue,
        };
        let begins_s = rows[i].t_s - window_s;
        let first = rows[..=i].partition_point(|row| row.t_s <= begins_s);
        let under = |row: &TruthRow| row.immersion >= DRAGGING_IMMERSION;
        let first = match state {
            BaitState::Skipping => continue,
            BaitState::Airborne => first,
            BaitState::Dragging => (first..i).find(|&j| under(&rows[j])).unwrap_or(i),
        };
        for row in &mut rows[first..=i] {
            row.at_sea = Some(state);
        }
    }
    Ok(())
}

fn in_range(place: String, value: f64, least: f64, most: f64) -> Result<(), TruthError> {
    if (least..=most).contains(&value) {
        Ok(())
    } else {
        Err(refused(place, value, format!("{least} to {most}")))
    }
}

fn refused(
    place: impl Into<String>,
    value: impl ToString,
    allowed: impl Into<String>,
) -> TruthError {
    TruthError::Value {
        place: place.into(),
        value: value.to_string(),
        allowed: allowed.into(),
    }
}
