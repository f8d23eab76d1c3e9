//! All days of a logbook, each counted once and counted again when it has changed.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use super::error::LogbookError;
use super::read::{DayFound, Reader};
use super::sums::{Counted, Sum, counted, sums};

/// Figures over all days.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeasonSums {
    /// Days in the logbook.
    pub days: u64,
    /// Days counted so far; ask again until it is all of them.
    pub counted_days: u64,
    /// Over all days together, by kite, by wind, by month; empty until all days are counted.
    pub sums: Vec<Sum>,
}

/// The days counted so far.
#[derive(Debug, Default)]
pub struct Season {
    days: BTreeMap<NaiveDate, (DayFound, Vec<Counted>)>,
}

impl Season {
    /// Counts days that are new or have changed, the latest first, one at least, until `is_enough`
    /// says so.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn count(
        &mut self,
        reader: &Reader,
        is_enough: impl Fn() -> bool,
    ) -> Result<SeasonSums, LogbookError> {
        let found = reader.days()?;
        self.days.retain(|date, (as_counted, _)| {
            found
                .iter()
                .any(|day| day.date == *date && day == as_counted)
        });
        for day in &found {
            if self.days.contains_key(&day.date) {
                continue;
            }
            let rows = reader.day(day.date)?;
            let counted = rows.as_ref().map(counted).unwrap_or_default();
            self.days.insert(day.date, (*day, counted));
            if is_enough() {
                break;
            }
        }
        let (days, counted_days) = (found.len() as u64, self.days.len() as u64);
        let each = self
            .days
            .iter()
            .map(|(date, (_, parts))| (*date, &parts[..]));
        Ok(SeasonSums {
            days,
            counted_days,
            sums: if counted_days == days {
                sums(each)
            } else {
                Vec::new()
            },
        })
    }
}
