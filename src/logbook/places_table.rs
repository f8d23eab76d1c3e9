//! Marks and passes into the file and out of it.

use rusqlite::{Connection, Row, params};

use super::marks::MarkRow;
use super::passes::PassRow;
use super::word::Word;
use crate::geodesy::Position;
use crate::time::Millis;

pub(super) fn write_mark(change: &Connection, session: i64, row: &MarkRow) -> rusqlite::Result<()> {
    change
        .prepare_cached(
            "INSERT OR REPLACE INTO mark_changes VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10,
                ?11, ?12, ?13)",
        )?
        .execute(params![
            session,
            row.number,
            row.at,
            Word(row.event),
            row.marked_at,
            Word(row.source),
            row.name,
            row.as_of,
            row.latitude_deg,
            row.longitude_deg,
            row.set_deg_true,
            row.drift_mps,
            row.sigma_m
        ])
        .map(drop)
}

/// Where a mark was at the moment of which its rows do not say so.
pub(super) fn place_mark(
    change: &Connection,
    session: i64,
    number: u32,
    as_of: Millis,
    place: Position,
) -> rusqlite::Result<()> {
    change
        .prepare_cached(
            "UPDATE mark_changes SET latitude_deg = ?4, longitude_deg = ?5
                WHERE session_id = ?1 AND number = ?2 AND as_of_ms = ?3 AND latitude_deg IS NULL",
        )?
        .execute(params![
            session,
            number,
            as_of,
            place.latitude_deg,
            place.longitude_deg
        ])
        .map(drop)
}

pub(super) fn write_pass(change: &Connection, session: i64, row: &PassRow) -> rusqlite::Result<()> {
    change
        .prepare_cached(
            "INSERT OR REPLACE INTO passes VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11,
                ?12, ?13)",
        )?
        .execute(params![
            session,
            row.mark,
            row.offered_at,
            row.number,
            row.chance,
            row.chance_of_marked,
            row.closest_foreseen_m,
            row.accepted_at,
            row.ended_at,
            row.ended.map(Word),
            row.closest_m,
            row.closest_at,
            row.skipping_share
        ])
        .map(drop)
}

/// All changes of a session's marks before a moment, as `mark` reads them: what a mark is on a day
/// may have been told the day before.
pub(super) const MARKS: &str = "SELECT at_ms, number, event, marked_at_ms, source, name, as_of_ms,
        latitude_deg, longitude_deg, set_deg_true, drift_mps, sigma_m FROM mark_changes
    WHERE session_id = ?1 AND at_ms < ?3
    ORDER BY at_ms, number, event NOT IN ('made', 'restored'), event";

pub(super) fn mark(row: &Row<'_>) -> rusqlite::Result<MarkRow> {
    Ok(MarkRow {
        at: row.get(0)?,
        number: row.get(1)?,
        event: row.get::<_, Word<_>>(2)?.0,
        marked_at: row.get(3)?,
        source: row.get::<_, Word<_>>(4)?.0,
        name: row.get(5)?,
        as_of: row.get(6)?,
        latitude_deg: row.get(7)?,
        longitude_deg: row.get(8)?,
        set_deg_true: row.get(9)?,
        drift_mps: row.get(10)?,
        sigma_m: row.get(11)?,
    })
}

/// The passes of a part of a session, as `pass` reads them.
pub(super) const PASSES: &str = "SELECT mark, number, offered_at_ms, chance, chance_of_marked,
        closest_foreseen_m, accepted_at_ms, ended_at_ms, ended, closest_m, closest_at_ms,
        skipping_share FROM passes
    WHERE session_id = ?1 AND offered_at_ms >= ?2 AND offered_at_ms < ?3
    ORDER BY offered_at_ms, mark";

pub(super) fn pass(row: &Row<'_>) -> rusqlite::Result<PassRow> {
    Ok(PassRow {
        mark: row.get(0)?,
        number: row.get(1)?,
        offered_at: row.get(2)?,
        chance: row.get(3)?,
        chance_of_marked: row.get(4)?,
        closest_foreseen_m: row.get(5)?,
        accepted_at: row.get(6)?,
        ended_at: row.get(7)?,
        ended: row.get::<_, Option<Word<_>>>(8)?.map(|word| word.0),
        closest_m: row.get(9)?,
        closest_at: row.get(10)?,
        skipping_share: row.get(11)?,
    })
}
