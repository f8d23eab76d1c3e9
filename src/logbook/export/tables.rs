//! Days as tables, for formats that know rows and columns.

use super::super::day::{DayRows, SessionRows};
use super::columns::{ADVISORIES, BITES, MARKS, MOVES, PASSES, SPANS, STATES, TAPS};
use super::table::{Table, table};

/// The names of all tables.
pub const TABLES: [&str; 8] = [
    "states",
    "spans",
    "bites",
    "advisories",
    "line_moves",
    "bait_told",
    "mark_changes",
    "passes",
];

/// One table of days; `None` for a name that is none.
#[must_use]
pub fn table_of(days: &[DayRows], name: &str) -> Option<Table> {
    let sessions = || days.iter().flat_map(|day| &day.sessions);
    fn each<'a, T>(
        sessions: impl Iterator<Item = &'a SessionRows>,
        rows: fn(&'a SessionRows) -> &'a [T],
    ) -> impl Iterator<Item = &'a T> {
        sessions.flat_map(rows)
    }
    let name = *TABLES.iter().find(|known| **known == name)?;
    Some(match name {
        "states" => table(
            name,
            "boat and rig at one moment, thinned: every 15 s, and when something changes",
            STATES,
            each(sessions(), |s| &s.states),
        ),
        "spans" => table(
            name,
            "time in which crew, bait and boat kept to one thing",
            SPANS,
            each(sessions(), |s| &s.spans),
        ),
        "bites" => table(
            name,
            "a bite, with what was known then",
            BITES,
            each(sessions(), |s| &s.bites),
        ),
        "advisories" => table(
            name,
            "an advisory from raised to ended",
            ADVISORIES,
            each(sessions(), |s| &s.advisories),
        ),
        "line_moves" => table(
            name,
            "a line that hands moved, as they told",
            MOVES,
            each(sessions(), |s| &s.moves),
        ),
        "bait_told" => table(
            name,
            "what the crew said that the bait did",
            TAPS,
            each(sessions(), |s| &s.bait_told),
        ),
        "mark_changes" => table(
            name,
            "a change of a mark, with the mark as it was after it",
            MARKS,
            each(sessions(), |s| &s.mark_changes),
        ),
        "passes" => table(
            name,
            "a pass of the bait over a mark, from offered to ended",
            PASSES,
            each(sessions(), |s| &s.passes),
        ),
        _ => return None,
    })
}

/// Days as tables.
pub fn tables(days: &[DayRows]) -> impl Iterator<Item = Table> {
    TABLES.iter().filter_map(|name| table_of(days, name))
}

/// What all columns mean, as a Markdown table for each.
#[must_use]
pub fn columns_text() -> String {
    let mut text = String::from(
        "Times are UTC; in CSV as RFC 3339, in Parquet as timestamps of a millisecond. What was not \
         known is an empty field in CSV and null in Parquet. Boolean values do not occur. Words are \
         those of the API.\n",
    );
    for table in tables(&[]) {
        text += &format!("\n## {}: {}\n\n", table.name, table.about);
        text += "| column | kind | meaning |\n|---|---|---|\n";
        for column in &table.columns {
            let (name, kind) = (column.name, column.kind.word());
            text += &format!("| {name} | {kind} | {} |\n", column.about);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::table::Kind;
    use super::*;

    #[test]
    fn every_table_has_a_name_of_its_own_and_every_column_says_what_it_is() {
        let all: Vec<Table> = tables(&[]).collect();
        assert_eq!(all.len(), TABLES.len());
        for (table, name) in all.iter().zip(TABLES) {
            assert_eq!(table.name, name);
            let mut names: Vec<&str> = table.columns.iter().map(|c| c.name).collect();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), table.columns.len(), "{name}");
            for column in &table.columns {
                assert!(!column.about.is_empty(), "{name}.{}", column.name);
                // Units are in the names of numbers.
                let plain = ["immersion", "chance", "chance_of_marked", "skipping_share"];
                let has_unit = ["_m", "_mps", "_deg", "_deg_s", "_deg_true"]
                    .iter()
                    .any(|unit| column.name.ends_with(unit));
                assert!(
                    column.kind != Kind::Real || has_unit || plain.contains(&column.name),
                    "{name}.{}",
                    column.name
                );
            }
            assert!(columns_text().contains(&format!("## {name}: ")));
        }
    }
}
