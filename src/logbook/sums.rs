//! Figures over many days. Pure.
//!
//! # Definitions
//!
//! - Every figure is that of a day (head of `figures`), summed. Medians are those of all that was
//!   counted.
//! - A day counts once under each kite that flew on it, with the time of that kite.
//! - **Wind** is the Beaufort force of the wind that half of the fishing time with that kite had no more
//!   than: true wind at the sensor, so at a masthead somewhat more than the scale means.
//! - **Month** is that of the date where the boat was.
//! - **Days** behind a figure are those on which anything was fished. Fewer than three are no base
//!   to compare on.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Datelike as _, NaiveDate};
use serde::Serialize;
use utoipa::ToSchema;

use super::day::DayRows;
use super::in_force::Kite;
use super::parts::by_kite;
use super::shapes::{BiteRate, Corrections, Enough, TimeIn};
use super::tallies::Tallies;
use crate::score::Report;

/// Least wind of each Beaufort force from 1 on, m/s (WMO, Manual on Codes, code table 1100; from
/// memory).
const FORCES_MPS: [f64; 12] = [
    0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7,
];

/// What days are summed by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SumBy {
    /// All together.
    All,
    /// The kite that flew.
    Kite,
    /// The wind of the day.
    Wind,
    /// The month.
    Month,
}

/// Figures of some days together.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Sum {
    /// What it is summed by.
    pub by: SumBy,
    /// The kite, where it is by kite; `null` also where that is not known.
    pub kite: Option<Kite>,
    /// Beaufort force, where it is by wind; `null` also where the wind was not known.
    pub wind_force: Option<u8>,
    /// Least wind of that force.
    pub wind_from_mps: Option<f64>,
    /// Least wind of the next force; `null` also for the highest.
    pub wind_to_mps: Option<f64>,
    /// Year and month, where it is by month: "2026-06".
    pub month: Option<String>,
    /// Days on which anything was fished.
    pub days: u64,
    /// Time fished with a forecast.
    pub fishing_s: f64,
    /// What the bait did, by the model.
    pub by_model: Vec<TimeIn>,
    /// What the bait did, by the crew.
    pub by_crew: Vec<TimeIn>,
    /// Moves of lines.
    pub corrections: Corrections,
    /// Bites.
    pub bites: u64,
    /// Bites in an hour of fishing; `null` with less than an hour.
    pub bites_per_hour: Option<f64>,
    /// Bites against what they may depend on.
    pub bite_rates: Vec<BiteRate>,
    /// How good the advice was, by the crew's own taps.
    pub advice: Report,
    /// Whether there is enough to compare.
    pub enough: Enough,
}

/// What one day adds to the sums: the time of one kite.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Counted {
    kite: Option<Kite>,
    wind_force: Option<u8>,
    tallies: Tallies,
}

/// Counts a day.
pub(super) fn counted(day: &DayRows) -> Vec<Counted> {
    let parts = by_kite(day).into_iter().map(|part| {
        let tallies = Tallies::of_day(day.date, part.sessions.iter().map(AsRef::as_ref));
        Counted {
            kite: part.kite,
            wind_force: tallies.median_wind_mps().map(force),
            tallies: tallies.without_wind(),
        }
    });
    parts.collect()
}

fn force(wind_mps: f64) -> u8 {
    FORCES_MPS.iter().zip(1..).fold(
        0,
        |force, (from, next)| {
            if wind_mps >= *from { next } else { force }
        },
    )
}

/// The least wind of a force.
fn force_from_mps(force: u8) -> Option<f64> {
    match force.checked_sub(1) {
        None => Some(0.0),
        Some(index) => FORCES_MPS.get(usize::from(index)).copied(),
    }
}

/// What one sum is over; in the order in which they are listed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Over {
    All,
    Kite(Option<(Option<String>, i64)>),
    Wind(Option<u8>),
    Month(i32, u32),
}

#[derive(Debug)]
struct Group {
    days: BTreeSet<NaiveDate>,
    kite: Option<Kite>,
    sum: Tallies,
}

/// Sums days: of all, of each kite, of each wind, of each month.
pub(super) fn sums<'a>(days: impl Iterator<Item = (NaiveDate, &'a [Counted])>) -> Vec<Sum> {
    let mut groups: BTreeMap<Over, Group> = BTreeMap::new();
    for (date, counted) in days {
        for part in counted.iter().filter(|part| part.has_anything()) {
            let key = part.kite.as_ref().map(Kite::key);
            let kite = key.map(|(name, area)| (name.map(str::to_owned), area));
            for over in [
                Over::All,
                Over::Kite(kite.clone()),
                Over::Wind(part.wind_force),
                Over::Month(date.year(), date.month()),
            ] {
                let group = groups.entry(over).or_insert_with(|| Group {
                    days: BTreeSet::new(),
                    kite: part.kite.clone(),
                    sum: Tallies::new(),
                });
                group.days.insert(date);
                group.sum.merge(&part.tallies);
            }
        }
    }
    groups
        .into_iter()
        .map(|(over, of)| shown(over, of))
        .collect()
}

impl Counted {
    fn has_anything(&self) -> bool {
        self.tallies.fishing_s > 0.0 || self.tallies.bites > 0
    }
}

fn shown(over: Over, group: Group) -> Sum {
    let Group { days, kite, sum } = group;
    let days = days.len() as u64;
    let advice = Report::new(&sum.marks);
    let wind_force = match over {
        Over::Wind(force) => force,
        _ => None,
    };
    Sum {
        by: match over {
            Over::All => SumBy::All,
            Over::Kite(_) => SumBy::Kite,
            Over::Wind(_) => SumBy::Wind,
            Over::Month(..) => SumBy::Month,
        },
        kite: kite.filter(|_| matches!(over, Over::Kite(_))),
        wind_force,
        wind_from_mps: wind_force.and_then(force_from_mps),
        wind_to_mps: wind_force.and_then(|force| force_from_mps(force + 1)),
        month: match over {
            Over::Month(year, month) => Some(format!("{year}-{month:02}")),
            _ => None,
        },
        days,
        fishing_s: sum.fishing_s,
        by_model: sum.by_model(),
        by_crew: sum.by_crew(),
        corrections: sum.corrections(),
        bites: sum.bites,
        bites_per_hour: sum.bites_per_hour(),
        bite_rates: sum.bite_rates(),
        enough: Enough::of(days, sum.bites, &advice),
        advice,
    }
}
