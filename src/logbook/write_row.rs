//! One row into the tables of the file.

use rusqlite::{Connection, OptionalExtension as _, Transaction, named_params, params};

use super::in_force::LoggedSettings;
use super::places_table::{place_mark, write_mark, write_pass};
use super::rows::{Entry, RevisionRow, Row, State, Told};
use super::word::Word;
use crate::time::Millis;

/// Writes one row. One that belongs to no session has nothing to stand in.
pub(super) fn write_row(
    change: &Transaction<'_>,
    session: &mut Option<i64>,
    row: &Row,
) -> rusqlite::Result<()> {
    if let Row::Session { begun_at } = row {
        change
            .prepare_cached("INSERT INTO sessions (begun_at_ms, program) VALUES (?1, ?2)")?
            .execute(params![begun_at, env!("CARGO_PKG_VERSION")])?;
        *session = Some(change.last_insert_rowid());
        return Ok(());
    }
    let Some(id) = *session else {
        return Ok(());
    };
    let execute = |sql: &str, values: &[&dyn rusqlite::ToSql]| {
        change.prepare_cached(sql)?.execute(values).map(drop)
    };
    match row {
        Row::Session { .. } => Ok(()),
        Row::Ended { at } => execute(
            "UPDATE sessions SET ended_at_ms = ?2 WHERE id = ?1",
            &[&id, at],
        ),
        Row::Zone { hours } => execute(
            "UPDATE sessions SET zone_hours = ?2 WHERE id = ?1",
            &[&id, hours],
        ),
        Row::Settings { from, in_force } => {
            let settings = settings_id(change, in_force)?;
            execute(
                "INSERT OR REPLACE INTO settings_in_force VALUES (?1, ?2, ?3)",
                &[&id, from, &settings],
            )
        }
        Row::Entry(entry) => write_entry(change, id, entry),
        Row::TakenBack {
            said_at,
            sequence,
            at,
        } => execute(
            "UPDATE entries SET taken_back_at_ms = ?4
                WHERE session_id = ?1 AND at_ms = ?2 AND sequence = ?3",
            &[&id, said_at, sequence, at],
        ),
        Row::BiteSeen { bite_at, boat, rig } => {
            describe_bite(change, *bite_at, boat.as_deref(), rig.as_deref())
        }
        Row::BiteEnded { bite_at, result } => {
            let word = result.map(|(result, _)| Word(result));
            let at = result.map(|(_, at)| at);
            execute(
                "UPDATE bites SET result = ?2, result_at_ms = ?3 WHERE at_ms = ?1",
                &[bite_at, &word, &at],
            )
        }
        Row::Mark(mark) => write_mark(change, id, mark),
        Row::MarkPlaced {
            number,
            as_of,
            place,
        } => place_mark(change, id, *number, *as_of, *place),
        Row::Pass(pass) => write_pass(change, id, pass),
        Row::State(state) => write_state(change, id, state),
        Row::Span(span) => execute(
            "INSERT OR REPLACE INTO spans VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            &[
                &id,
                &span.from,
                &span.to,
                &Word(span.doing),
                &span.bait.map(Word),
                &span.point_of_sail.map(Word),
                &span.tack.map(Word),
            ],
        ),
        Row::Revision(revision) => write_revision(change, id, revision),
        Row::Chances(run) => execute(
            "INSERT OR REPLACE INTO chances VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
            &[
                &id,
                &Word(run.trouble),
                &run.made_at,
                &run.forecasts,
                &run.horizon_s,
                &run.chance,
                &run.so_now,
                &run.onset_s.map(|band| band.p10),
                &run.onset_s.map(|band| band.p50),
                &run.onset_s.map(|band| band.p90),
            ],
        ),
        Row::Learnt { at, taught } => {
            let learnt = taught.learnt;
            for number in &taught.numbers {
                execute(
                    "INSERT OR REPLACE INTO learnt VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                    &[
                        &id,
                        at,
                        &Word(number.about),
                        &number.off,
                        &number.sd,
                        &number.sd_before,
                        &(learnt.reports as i64),
                        &learnt.at,
                    ],
                )?;
            }
            Ok(())
        }
        Row::TroubleBegins {
            quantity,
            from,
            why,
        } => execute(
            "INSERT OR REPLACE INTO instrument_troubles VALUES (?1, ?2, ?3, NULL, ?4)",
            &[&id, &Word(*quantity), from, why],
        ),
        Row::TroubleEnds { quantity, from, to } => execute(
            "UPDATE instrument_troubles SET to_ms = ?4
                WHERE session_id = ?1 AND quantity = ?2 AND from_ms = ?3",
            &[&id, &Word(*quantity), from, to],
        ),
    }
}

/// The same settings stand in the file once.
fn settings_id(change: &Connection, in_force: &LoggedSettings) -> rusqlite::Result<i64> {
    let known = change
        .prepare_cached("SELECT id FROM settings WHERE toml = ?1")?
        .query_row([&in_force.toml], |row| row.get(0))
        .optional()?;
    if let Some(id) = known {
        return Ok(id);
    }
    change.execute(
        "INSERT INTO settings (toml, kite, kite_area_m2) VALUES (?1, ?2, ?3)",
        params![in_force.toml, in_force.kite.name, in_force.kite.area_m2],
    )?;
    Ok(change.last_insert_rowid())
}

fn write_entry(change: &Transaction<'_>, session: i64, entry: &Entry) -> rusqlite::Result<()> {
    change
        .prepare_cached(
            "INSERT INTO entries (session_id, at_ms, feed, sequence, word, sentence, counted)
                VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        )?
        .execute(params![
            session,
            entry.at,
            entry.feed,
            entry.sequence,
            entry.word,
            entry.sentence,
            entry.counted
        ])?;
    match &entry.told {
        Some(told) => write_told(change, change.last_insert_rowid(), entry.at, told),
        None => Ok(()),
    }
}

fn write_told(
    change: &Transaction<'_>,
    entry: i64,
    at: Millis,
    told: &Told,
) -> rusqlite::Result<()> {
    let report = |what: &str, column: &str, value: &dyn rusqlite::ToSql| {
        let sql = format!(
            "INSERT INTO reports (entry_id, at_ms, what, {column}) VALUES (?1, ?2, ?3, ?4)"
        );
        change
            .prepare_cached(&sql)?
            .execute(params![entry, at, what, value])
            .map(drop)
    };
    match told {
        Told::Moved { line, by_m, asked } => change
            .prepare_cached("INSERT INTO line_moves VALUES (?1, ?2, ?3, ?4, ?5, ?6)")?
            .execute(params![
                entry,
                at,
                Word(*line),
                by_m,
                asked.as_ref().map(|(advisory, _)| advisory),
                asked.as_ref().map(|(_, revision)| revision)
            ])
            .map(drop),
        Told::Bite => change
            .prepare_cached("INSERT INTO bites (entry_id, at_ms) VALUES (?1, ?2)")?
            .execute(params![entry, at])
            .map(drop),
        Told::Lines { kite_m, main_m } => change
            .prepare_cached(
                "INSERT INTO reports (entry_id, at_ms, what, kite_line_m, main_line_m)
                    VALUES (?1, ?2, 'lines_out', ?3, ?4)",
            )?
            .execute(params![entry, at, kite_m, main_m])
            .map(drop),
        Told::Turn {
            by_deg,
            rate_deg_s,
            in_s,
        } => change
            .prepare_cached(
                "INSERT INTO reports (entry_id, at_ms, what, turn_by_deg, turn_rate_deg_s, turn_in_s)
                    VALUES (?1, ?2, 'turn', ?3, ?4, ?5)",
            )?
            .execute(params![entry, at, by_deg, rate_deg_s, in_s])
            .map(drop),
        Told::Answer { answer, asked } => change
            .prepare_cached(
                "INSERT INTO reports (entry_id, at_ms, what, answer, asked_by, asked_revision)
                    VALUES (?1, ?2, 'answer', ?3, ?4, ?5)",
            )?
            .execute(params![
                entry,
                at,
                Word(*answer),
                asked.as_ref().map(|(advisory, _)| advisory),
                asked.as_ref().map(|(_, revision)| revision)
            ])
            .map(drop),
        Told::Bait(state) => report("bait", "bait", &Word(*state)),
        Told::Elevation { deg } => report("elevation", "elevation_deg", deg),
        Told::OffAstern { deg } => report("off_astern", "off_astern_deg", deg),
        Told::Marker { in_water } => report("marker", "marker_in_water", in_water),
        Told::CallOffTurn => report("call_off_turn", "bait", &None::<String>),
    }
}

fn describe_bite(
    change: &Transaction<'_>,
    bite_at: Millis,
    boat: Option<&State>,
    rig: Option<&State>,
) -> rusqlite::Result<()> {
    let of_boat = |value: fn(&State) -> Option<f64>| boat.and_then(value);
    let of_rig = |value: fn(&State) -> Option<f64>| rig.and_then(value);
    change
        .prepare_cached(
            "UPDATE bites SET boat_at_ms = :boat_at, latitude_deg = :latitude,
                longitude_deg = :longitude, heading_deg_true = :heading,
                speed_water_mps = :speed_water, speed_ground_mps = :speed_ground,
                course_deg_true = :course, wind_at_sensor_mps = :wind, wind_from_deg_true = :wind_from,
                kite_line_m = :kite_line, main_line_m = :main_line, bait_told = :bait_told,
                rig_at_ms = :rig_at, bait = :bait, kite_elevation_deg = :elevation,
                kite_off_astern_deg = :off_astern, immersion = :immersion,
                bait_astern_m = :bait_astern, bait_starboard_m = :bait_starboard
                WHERE at_ms = :at",
        )?
        .execute(named_params! {
            ":at": bite_at,
            ":boat_at": boat.map(|state| state.at),
            ":latitude": of_boat(|state| state.latitude_deg),
            ":longitude": of_boat(|state| state.longitude_deg),
            ":heading": of_boat(|state| state.heading_deg_true),
            ":speed_water": of_boat(|state| state.speed_water_mps),
            ":speed_ground": of_boat(|state| state.speed_ground_mps),
            ":course": of_boat(|state| state.course_deg_true),
            ":wind": of_boat(|state| state.wind_at_sensor_mps),
            ":wind_from": of_boat(|state| state.wind_from_deg_true),
            ":kite_line": of_rig(|state| state.kite_line_m),
            ":main_line": of_rig(|state| state.main_line_m),
            ":bait_told": boat.and_then(|state| state.bait_told).map(Word),
            ":rig_at": rig.map(|state| state.at),
            ":bait": rig.and_then(|state| state.bait).map(Word),
            ":elevation": of_rig(|state| state.kite_elevation_deg),
            ":off_astern": of_rig(|state| state.kite_off_astern_deg),
            ":immersion": of_rig(|state| state.immersion),
            ":bait_astern": of_rig(|state| state.bait_astern_m),
            ":bait_starboard": of_rig(|state| state.bait_starboard_m),
        })
        .map(drop)
}

fn write_state(change: &Transaction<'_>, session: i64, state: &State) -> rusqlite::Result<()> {
    change
        .prepare_cached(
            "INSERT OR REPLACE INTO states VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11,
                ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21)",
        )?
        .execute(params![
            session,
            state.at,
            state.latitude_deg,
            state.longitude_deg,
            state.heading_deg_true,
            state.rate_of_turn_deg_s,
            state.speed_water_mps,
            state.speed_ground_mps,
            state.course_deg_true,
            state.wind_at_sensor_mps,
            state.wind_from_deg_true,
            state.kite_line_m,
            state.main_line_m,
            Word(state.doing),
            state.bait.map(Word),
            state.bait_told.map(Word),
            state.kite_elevation_deg,
            state.kite_off_astern_deg,
            state.immersion,
            state.bait_astern_m,
            state.bait_starboard_m
        ])
        .map(drop)
}

fn write_revision(
    change: &Transaction<'_>,
    session: i64,
    revision: &RevisionRow,
) -> rusqlite::Result<()> {
    let scored = &revision.scored;
    let advisory: i64 = change
        .prepare_cached(
            "INSERT INTO advisories (session_id, advisory, kind, raised_at_ms, ended_at_ms, outcome)
                VALUES (?1, ?2, ?3, ?4, ?5, ?6)
                ON CONFLICT (session_id, advisory) DO UPDATE
                SET ended_at_ms = excluded.ended_at_ms, outcome = excluded.outcome
                RETURNING id",
        )?
        .query_row(
            params![
                session,
                scored.id,
                Word(scored.kind),
                scored.raised_at,
                scored.outcome.map(|_| scored.at),
                scored.outcome.map(Word)
            ],
            |row| row.get(0),
        )?;
    change
        .prepare_cached(
            "INSERT OR REPLACE INTO advisory_revisions VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9,
                ?10, ?11, ?12, ?13)",
        )?
        .execute(params![
            advisory,
            revision.revision,
            scored.at,
            Word(scored.priority),
            scored.onset_at,
            scored.unwatched_since,
            scored.outcome.map(Word),
            revision.chance,
            revision.chance_with_plan,
            revision.asks.map(|(line, _)| Word(line)),
            revision.asks.map(|(_, by_m)| by_m),
            revision.title,
            revision.cause
        ])
        .map(drop)
}
