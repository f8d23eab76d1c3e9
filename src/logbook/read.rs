//! Reads days from the file.

use std::path::Path;

use chrono::{DateTime, NaiveDate};
use rusqlite::{Connection, Row, params};
use serde::Serialize;
use utoipa::ToSchema;

use super::day::{
    AdvisoryRow, BiteRow, DayRows, LearntRow, MoveRow, SessionRows, TroubleRow, TurnRow,
};
use super::error::LogbookError;
use super::file::open_to_read;
use super::in_force::Kite;
use super::marks::lives;
use super::places_table;
use super::rows::{ChanceRun, Span, State};
use super::word::Word;
use crate::forecast::{Band, LearntNow, LearntNumber};
use crate::score::Revision;
use crate::time::Millis;

const DAY_MS: i64 = 24 * 3600 * 1000;

/// A day of the logbook, before anything of it is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct DayFound {
    /// Its date where the boat was.
    #[serde(rename = "day")]
    #[schema(value_type = String, format = Date)]
    pub date: NaiveDate,
    /// First moment.
    #[schema(value_type = String, format = DateTime)]
    pub from: Millis,
    /// Last moment.
    #[schema(value_type = String, format = DateTime)]
    pub to: Millis,
    /// Time with a forecast while fishing, seconds.
    pub fishing_s: f64,
    /// The part of it in which the model held that the bait skipped, seconds.
    pub skipping_s: f64,
    /// Bites that were not taken back.
    pub bites: u32,
}

/// A logbook that is read.
#[derive(Debug)]
pub struct Reader {
    connection: Connection,
    path: std::path::PathBuf,
}

/// Where a session lies.
struct SessionFound {
    id: i64,
    begun_at: Millis,
    zone_hours: i32,
    /// The moments of the date in its zone.
    from: Millis,
    to: Millis,
}

impl Reader {
    /// Opens a logbook, which may be being written.
    ///
    /// # Errors
    /// When there is none, or it cannot be read.
    pub fn open(path: &Path) -> Result<Self, LogbookError> {
        Ok(Self {
            connection: open_to_read(path)?,
            path: path.to_owned(),
        })
    }

    /// All days, latest first.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn days(&self) -> Result<Vec<DayFound>, LogbookError> {
        self.told(days(&self.connection))
    }

    /// One day; `None` where nothing was logged.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn day(&self, date: NaiveDate) -> Result<Option<DayRows>, LogbookError> {
        self.told(day(&self.connection, date))
    }

    fn told<T>(&self, result: rusqlite::Result<T>) -> Result<T, LogbookError> {
        result.map_err(|why| LogbookError::sqlite(&self.path, why))
    }
}

fn days(connection: &Connection) -> rusqlite::Result<Vec<DayFound>> {
    let mut found = connection.prepare(
        "WITH
            clock AS (SELECT id, coalesce(zone_hours, 0) * 3600000 AS ahead_ms FROM sessions),
            spent AS (
                SELECT (from_ms + ahead_ms) / 86400000 AS day, min(from_ms) AS from_ms,
                    max(to_ms) AS to_ms,
                    sum(iif(doing = 'fishing' AND bait IS NOT NULL, to_ms - from_ms, 0)) AS fishing_ms,
                    sum(iif(doing = 'fishing' AND bait = 'skipping', to_ms - from_ms, 0)) AS skipping_ms
                FROM spans JOIN clock ON clock.id = session_id GROUP BY day),
            bitten AS (
                SELECT (e.at_ms + ahead_ms) / 86400000 AS day, count(*) AS bites
                FROM bites b JOIN entries e ON e.id = b.entry_id JOIN clock ON clock.id = session_id
                WHERE taken_back_at_ms IS NULL GROUP BY day)
        SELECT spent.day, from_ms, to_ms, fishing_ms, skipping_ms, coalesce(bites, 0)
        FROM spent LEFT JOIN bitten USING (day) ORDER BY spent.day DESC",
    )?;
    let rows = found.query_map([], |row| {
        let day: i64 = row.get(0)?;
        Ok(DayFound {
            date: DateTime::from_timestamp_millis(day * DAY_MS)
                .unwrap_or_default()
                .date_naive(),
            from: row.get(1)?,
            to: row.get(2)?,
            fishing_s: row.get::<_, i64>(3)? as f64 / 1000.0,
            skipping_s: row.get::<_, i64>(4)? as f64 / 1000.0,
            bites: row.get(5)?,
        })
    })?;
    rows.collect()
}

fn day(connection: &Connection, date: NaiveDate) -> rusqlite::Result<Option<DayRows>> {
    let mut sessions = Vec::new();
    let mut zone_hours = None;
    for session in sessions_of(connection, date)? {
        let range = Range {
            connection,
            session: session.id,
            from: session.from,
            to: session.to,
        };
        zone_hours = zone_hours.or(Some(session.zone_hours));
        sessions.push(SessionRows {
            from: session.begun_at.max(session.from),
            ..range.rows()?
        });
    }
    Ok(zone_hours.map(|zone_hours| DayRows {
        date,
        zone_hours,
        sessions,
    }))
}

/// The sessions that hold anything of a date.
fn sessions_of(connection: &Connection, date: NaiveDate) -> rusqlite::Result<Vec<SessionFound>> {
    let mut found = connection.prepare_cached(
        "WITH its AS (
            SELECT id, begun_at_ms, coalesce(zone_hours, 0) AS hours,
                ?1 - coalesce(zone_hours, 0) * 3600000 AS from_ms FROM sessions)
        SELECT id, begun_at_ms, hours, from_ms FROM its
        WHERE begun_at_ms < its.from_ms + 86400000
            AND (EXISTS (SELECT 1 FROM spans s WHERE s.session_id = its.id
                    AND s.from_ms >= its.from_ms AND s.from_ms < its.from_ms + 86400000)
                OR EXISTS (SELECT 1 FROM entries e WHERE e.session_id = its.id
                    AND e.at_ms >= its.from_ms AND e.at_ms < its.from_ms + 86400000))
        ORDER BY begun_at_ms, id",
    )?;
    let midnight = date.and_time(chrono::NaiveTime::MIN).and_utc();
    let rows = found.query_map([midnight.timestamp_millis()], |row| {
        let from: Millis = row.get(3)?;
        Ok(SessionFound {
            id: row.get(0)?,
            begun_at: row.get(1)?,
            zone_hours: row.get(2)?,
            from,
            to: Millis(from.0 + DAY_MS),
        })
    })?;
    rows.collect()
}

/// A part of a session.
struct Range<'a> {
    connection: &'a Connection,
    session: i64,
    from: Millis,
    to: Millis,
}

impl Range<'_> {
    fn list<T>(
        &self,
        sql: &str,
        read: impl Fn(&Row<'_>) -> rusqlite::Result<T>,
    ) -> rusqlite::Result<Vec<T>> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let rows = statement.query_map(params![self.session, self.from, self.to], read)?;
        rows.collect()
    }

    fn rows(&self) -> rusqlite::Result<SessionRows> {
        let all = self.list(places_table::MARKS, places_table::mark)?;
        let (marks, mark_changes) = lives(all, self.from);
        Ok(SessionRows {
            marks,
            mark_changes,
            passes: self.list(places_table::PASSES, places_table::pass)?,
            from: self.from,
            sentences: self.list(
                "SELECT at_ms, sentence FROM entries
                    WHERE session_id = ?1 AND at_ms >= ?2 AND at_ms < ?3 ORDER BY at_ms, id",
                |row| Ok((row.get(0)?, row.get(1)?)),
            )?,
            revisions: self.revisions()?,
            chances: self.list(
                "SELECT trouble, made_at_ms, forecasts, horizon_s, chance, so_now, onset_p10_s,
                    onset_p50_s, onset_p90_s FROM chances
                    WHERE session_id = ?1 AND made_at_ms >= ?2 AND made_at_ms < ?3",
                chance_run,
            )?,
            spans: self.list(
                "SELECT from_ms, to_ms, doing, bait, point_of_sail, tack FROM spans
                    WHERE session_id = ?1 AND from_ms >= ?2 AND from_ms < ?3 ORDER BY from_ms",
                span,
            )?,
            states: self.list(
                "SELECT at_ms, latitude_deg, longitude_deg, heading_deg_true, rate_of_turn_deg_s,
                    speed_water_mps, speed_ground_mps, course_deg_true, wind_at_sensor_mps,
                    wind_from_deg_true, kite_line_m, main_line_m, bait, bait_told,
                    kite_elevation_deg, kite_off_astern_deg, immersion, bait_astern_m,
                    bait_starboard_m, doing FROM states
                    WHERE session_id = ?1 AND at_ms >= ?2 AND at_ms < ?3 ORDER BY at_ms",
                state,
            )?,
            bites: self.list(
                "SELECT b.at_ms, latitude_deg, longitude_deg, heading_deg_true, NULL,
                    speed_water_mps, speed_ground_mps, course_deg_true, wind_at_sensor_mps,
                    wind_from_deg_true, kite_line_m, main_line_m, bait, bait_told,
                    kite_elevation_deg, kite_off_astern_deg, immersion, bait_astern_m,
                    bait_starboard_m, 'strike', result, result_at_ms
                    FROM bites b JOIN entries e ON e.id = b.entry_id
                    WHERE session_id = ?1 AND b.at_ms >= ?2 AND b.at_ms < ?3
                    AND taken_back_at_ms IS NULL ORDER BY b.at_ms",
                bite,
            )?,
            moves: self.list(
                "SELECT m.at_ms, line, by_m, asked_by
                    FROM line_moves m JOIN entries e ON e.id = m.entry_id
                    WHERE session_id = ?1 AND m.at_ms >= ?2 AND m.at_ms < ?3
                    AND taken_back_at_ms IS NULL ORDER BY m.at_ms, m.entry_id",
                |row| {
                    Ok(MoveRow {
                        at: row.get(0)?,
                        line: row.get::<_, Word<_>>(1)?.0,
                        by_m: row.get(2)?,
                        asked_by: row.get(3)?,
                    })
                },
            )?,
            bait_told: self.list(
                "SELECT r.at_ms, bait FROM reports r JOIN entries e ON e.id = r.entry_id
                    WHERE session_id = ?1 AND r.at_ms >= ?2 AND r.at_ms < ?3
                    AND what = 'bait' AND taken_back_at_ms IS NULL ORDER BY r.at_ms, r.entry_id",
                |row| Ok((row.get(0)?, row.get::<_, Word<_>>(1)?.0)),
            )?,
            turns: self.list(
                "SELECT r.at_ms, turn_by_deg, turn_in_s FROM reports r JOIN entries e ON e.id = r.entry_id
                    WHERE session_id = ?1 AND r.at_ms >= ?2 AND r.at_ms < ?3
                    AND what = 'turn' AND taken_back_at_ms IS NULL ORDER BY r.at_ms, r.entry_id",
                |row| {
                    Ok(TurnRow {
                        at: row.get(0)?,
                        by_deg: row.get(1)?,
                        in_s: row.get(2)?,
                    })
                },
            )?,
            advisories: self.advisories()?,
            troubles: self.list(
                "SELECT quantity, from_ms, to_ms, why FROM instrument_troubles
                    WHERE session_id = ?1 AND from_ms >= ?2 AND from_ms < ?3 ORDER BY from_ms",
                |row| {
                    Ok(TroubleRow {
                        quantity: row.get::<_, Word<_>>(0)?.0,
                        from: row.get(1)?,
                        to: row.get(2)?,
                        why: row.get(3)?,
                    })
                },
            )?,
            kites: self.kites()?,
            learnt: self.list(
                "SELECT at_ms, about, off, sd, sd_before, reports, last_report_at_ms FROM learnt
                    WHERE session_id = ?1 AND at_ms >= ?2 AND at_ms < ?3 ORDER BY at_ms",
                learnt,
            )?,
        })
    }

    /// Which kite flew from when on; the first of them from the beginning of the range.
    fn kites(&self) -> rusqlite::Result<Vec<(Millis, Kite)>> {
        let mut kites = self.list(
            "SELECT max(f.from_ms, ?2), kite, kite_area_m2
                FROM settings_in_force f JOIN settings s ON s.id = f.settings_id
                WHERE f.session_id = ?1 AND f.from_ms < ?3 ORDER BY f.from_ms",
            |row| {
                let (name, area_m2) = (row.get(1)?, row.get(2)?);
                Ok((row.get::<_, Millis>(0)?, Kite { name, area_m2 }))
            },
        )?;
        let before = kites.partition_point(|(from, _)| *from <= self.from);
        kites.drain(..before.saturating_sub(1));
        // Settings are changed more often than kites.
        kites.dedup_by(|next, last| next.1 == last.1);
        Ok(kites)
    }

    fn revisions(&self) -> rusqlite::Result<Vec<Revision>> {
        self.list(
            "SELECT advisory, at_ms, kind, priority, raised_at_ms, onset_at_ms,
                unwatched_since_ms, r.outcome
                FROM advisories a JOIN advisory_revisions r ON r.advisory_id = a.id
                WHERE session_id = ?1 AND at_ms >= ?2 AND at_ms < ?3
                ORDER BY at_ms, advisory_id, revision",
            |row| {
                Ok(Revision {
                    id: row.get(0)?,
                    at: row.get(1)?,
                    kind: row.get::<_, Word<_>>(2)?.0,
                    priority: row.get::<_, Word<_>>(3)?.0,
                    raised_at: row.get(4)?,
                    onset_at: row.get(5)?,
                    unwatched_since: row.get(6)?,
                    outcome: row.get::<_, Option<Word<_>>>(7)?.map(|word| word.0),
                })
            },
        )
    }

    fn advisories(&self) -> rusqlite::Result<Vec<AdvisoryRow>> {
        self.list(
            "SELECT advisory, kind, raised_at_ms, ended_at_ms, a.outcome,
                (SELECT title FROM advisory_revisions WHERE advisory_id = a.id
                    ORDER BY revision LIMIT 1),
                (SELECT count(*) FROM advisory_revisions WHERE advisory_id = a.id)
                FROM advisories a
                WHERE session_id = ?1 AND raised_at_ms >= ?2 AND raised_at_ms < ?3
                ORDER BY raised_at_ms, id",
            |row| {
                let outcome = row.get::<_, Option<Word<_>>>(4)?.map(|word| word.0);
                Ok(AdvisoryRow {
                    id: row.get(0)?,
                    kind: row.get::<_, Word<_>>(1)?.0,
                    raised_at: row.get(2)?,
                    ended: row.get::<_, Option<Millis>>(3)?.zip(outcome),
                    title: row.get(5)?,
                    revisions: row.get(6)?,
                })
            },
        )
    }
}

fn chance_run(row: &Row<'_>) -> rusqlite::Result<ChanceRun> {
    let onset = (row.get(6)?, row.get(7)?, row.get(8)?);
    Ok(ChanceRun {
        trouble: row.get::<_, Word<_>>(0)?.0,
        made_at: row.get(1)?,
        forecasts: row.get(2)?,
        horizon_s: row.get(3)?,
        chance: row.get(4)?,
        so_now: row.get(5)?,
        onset_s: match onset {
            (Some(p10), Some(p50), Some(p90)) => Some(Band { p10, p50, p90 }),
            _ => None,
        },
    })
}

fn learnt(row: &Row<'_>) -> rusqlite::Result<LearntRow> {
    Ok(LearntRow {
        at: row.get(0)?,
        learnt: LearntNow {
            reports: row.get::<_, i64>(5)?.unsigned_abs(),
            at: row.get(6)?,
        },
        number: LearntNumber {
            about: row.get::<_, Word<_>>(1)?.0,
            off: row.get(2)?,
            sd: row.get(3)?,
            sd_before: row.get(4)?,
        },
    })
}

fn span(row: &Row<'_>) -> rusqlite::Result<Span> {
    Ok(Span {
        from: row.get(0)?,
        to: row.get(1)?,
        doing: row.get::<_, Word<_>>(2)?.0,
        bait: row.get::<_, Option<Word<_>>>(3)?.map(|word| word.0),
        point_of_sail: row.get::<_, Option<Word<_>>>(4)?.map(|word| word.0),
        tack: row.get::<_, Option<Word<_>>>(5)?.map(|word| word.0),
    })
}

fn state(row: &Row<'_>) -> rusqlite::Result<State> {
    Ok(State {
        at: row.get(0)?,
        latitude_deg: row.get(1)?,
        longitude_deg: row.get(2)?,
        heading_deg_true: row.get(3)?,
        rate_of_turn_deg_s: row.get(4)?,
        speed_water_mps: row.get(5)?,
        speed_ground_mps: row.get(6)?,
        course_deg_true: row.get(7)?,
        wind_at_sensor_mps: row.get(8)?,
        wind_from_deg_true: row.get(9)?,
        kite_line_m: row.get(10)?,
        main_line_m: row.get(11)?,
        bait: row.get::<_, Option<Word<_>>>(12)?.map(|word| word.0),
        bait_told: row.get::<_, Option<Word<_>>>(13)?.map(|word| word.0),
        kite_elevation_deg: row.get(14)?,
        kite_off_astern_deg: row.get(15)?,
        immersion: row.get(16)?,
        bait_astern_m: row.get(17)?,
        bait_starboard_m: row.get(18)?,
        doing: row.get::<_, Word<_>>(19)?.0,
    })
}

fn bite(row: &Row<'_>) -> rusqlite::Result<BiteRow> {
    let result = row.get::<_, Option<Word<_>>>(20)?.map(|word| word.0);
    Ok(BiteRow {
        at: row.get(0)?,
        result: result.zip(row.get(21)?),
        state: state(row)?,
    })
}
