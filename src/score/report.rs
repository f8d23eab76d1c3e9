//! The counts as figures: text for people, JSON for programs.

use std::fmt::Write as _;

use serde::Serialize;
use utoipa::ToSchema;

use super::labels::scored;
use super::marks::{ChanceMarks, Class, Counts, Fate, Marks};
use super::reliability::{Bin, Reliability};
use crate::forecast::Trouble;

/// All figures of some recordings; definitions in the module head of `score`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = Score)]
pub struct Report {
    /// Recordings.
    pub recordings: u64,
    /// Their length together.
    pub recorded_s: f64,
    /// Announced turns.
    pub planned_turns: u64,
    /// Turns first seen under way.
    pub under_way_turns: u64,
    /// Events caused by hands, not in any figure below.
    pub events_by_hands: u64,
    /// Events that were on when a recording began, not in any figure below.
    pub events_from_before: u64,
    /// Share of the time of turns in which the bait skipped.
    pub skipping_in_turns: Option<f64>,
    /// Share of the time without trouble in which a warning or an alarm of trouble stands.
    pub burden: Option<f64>,
    /// Advisories, for all troubles together ("all") and for each.
    pub told: Vec<Told>,
    /// Chances, for all troubles together ("all") and for each.
    pub chances: Vec<Chances>,
}

/// How often and how early an advisory came, for one class of turns.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ScoreOfAdvisories)]
pub struct Told {
    /// "all" or the kind.
    pub trouble: String,
    /// Class.
    pub class: Class,
    /// Events.
    pub events: u64,
    /// Those that an advisory foretold.
    pub detected: u64,
    /// Detected / events.
    pub detection: Option<f64>,
    /// Leads measured.
    pub leads: usize,
    /// Their median.
    pub lead_median_s: Option<f64>,
    /// Their 10th percentile.
    pub lead_p10_s: Option<f64>,
    /// Advisories that foretold an event.
    pub true_alarms: u64,
    /// Advisories that foretold nothing.
    pub false_alarms: u64,
    /// False / (true + false).
    pub false_alarm_ratio: Option<f64>,
    /// Raised on the crew's own tap.
    pub told: u64,
    /// Raised while the event was on.
    pub late: u64,
    /// Hands acted in time.
    pub averted: u64,
    /// The turn was called off.
    pub withdrawn: u64,
    /// No forecast watched it any more.
    pub lost: u64,
    /// The recording ended first.
    pub open: u64,
}

/// Quality of the chances of one trouble.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = ScoreOfChances)]
pub struct Chances {
    /// "all" or the kind.
    pub trouble: String,
    /// Events behind the samples.
    pub events: u64,
    /// Samples left out because the event was on already.
    pub left_out_on_already: u64,
    /// Samples left out because the horizon passed the end of the truth.
    pub left_out_past_end: u64,
    /// Every sample as it is.
    pub whole: ChanceSet,
    /// Without those whose horizon contains a line move or an unannounced turn.
    pub censored: ChanceSet,
    /// With the horizon cut there instead: the set to judge by.
    pub shortened: ChanceSet,
}

/// Scores of one set of samples.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ChanceSet {
    /// Samples.
    pub samples: u64,
    /// Brier score.
    pub brier: Option<f64>,
    /// Base rate.
    pub base_rate: Option<f64>,
    /// Brier skill over the base rate.
    pub skill: Option<f64>,
    /// Largest gap of a bin that is not thin.
    pub largest_gap: Option<f64>,
    /// Reliability table.
    pub bins: Vec<Bin>,
}

impl Report {
    /// Figures of the marks.
    #[must_use]
    pub fn new(marks: &Marks) -> Self {
        let turns = |class| marks.turns.get(&class).copied().unwrap_or(0);
        let kinds = || std::iter::once(None).chain(scored().map(Some));
        let mut told = Vec::new();
        let mut chances = Vec::new();
        for trouble in kinds() {
            let mut events = 0;
            for class in Class::ALL {
                let counts = marks.counts(trouble, class);
                events += counts.events;
                if trouble.is_none() || counts != Counts::default() {
                    told.push(Told::new(name(trouble), class, &counts));
                }
            }
            let of_kind = marks.chance_marks(trouble);
            if of_kind != ChanceMarks::default() {
                chances.push(Chances::new(name(trouble), events, &of_kind));
            }
        }
        Self {
            recordings: marks.recordings,
            recorded_s: marks.recorded_s,
            planned_turns: turns(Class::Planned),
            under_way_turns: turns(Class::UnderWay),
            events_by_hands: marks.events_by_hands,
            events_from_before: marks.events_from_before,
            skipping_in_turns: (marks.turn_time_s > 0.0)
                .then(|| marks.turn_skipping_s / marks.turn_time_s),
            burden: (marks.free_s > 0.0).then(|| marks.burdened_s / marks.free_s),
            told,
            chances,
        }
    }

    /// Tables for the terminal.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = self.write(&mut text);
        text
    }

    fn write(&self, out: &mut String) -> std::fmt::Result {
        writeln!(
            out,
            "recordings: {} ({:.0} min); turns: {} planned, {} seen under way; bait skipping in {} of their time",
            self.recordings,
            self.recorded_s / 60.0,
            self.planned_turns,
            self.under_way_turns,
            percent(self.skipping_in_turns),
        )?;
        writeln!(
            out,
            "events not scored: {} that hands brought, {} on when a recording began",
            self.events_by_hands, self.events_from_before
        )?;
        writeln!(
            out,
            "burden: a warning or alarm stands in {} of the time without trouble\n",
            percent(self.burden)
        )?;
        self.write_told(out)?;
        self.write_chances(out)?;
        self.write_reliability(out)
    }

    fn write_told(&self, out: &mut String) -> std::fmt::Result {
        writeln!(
            out,
            "{:<14} {:<9} {:>6} {:>8} {:>9} | {:>6} {:>6} | {:>4} {:>5} {:>11} | {:>4} {:>4} {:>7} {:>9} {:>4} {:>4}",
            "ADVISORIES",
            "turns",
            "events",
            "foretold",
            "detection",
            "median",
            "10th %",
            "true",
            "false",
            "false share",
            "told",
            "late",
            "averted",
            "withdrawn",
            "lost",
            "open"
        )?;
        for row in &self.told {
            writeln!(
                out,
                "{:<14} {:<9} {:>6} {:>8} {:>9} | {:>6} {:>6} | {:>4} {:>5} {:>11} | {:>4} {:>4} {:>7} {:>9} {:>4} {:>4}",
                row.trouble,
                row.class.name(),
                row.events,
                row.detected,
                share(row.detection),
                seconds(row.lead_median_s),
                seconds(row.lead_p10_s),
                row.true_alarms,
                row.false_alarms,
                share(row.false_alarm_ratio),
                row.told,
                row.late,
                row.averted,
                row.withdrawn,
                row.lost,
                row.open,
            )?;
        }
        Ok(())
    }

    fn write_chances(&self, out: &mut String) -> std::fmt::Result {
        writeln!(
            out,
            "\n{:<14} {:<10} {:>7} {:>7} {:>9} {:>7} {:>11}",
            "CHANCES", "set", "samples", "Brier", "base rate", "skill", "largest gap"
        )?;
        for row in &self.chances {
            for (set, scores) in row.sets() {
                writeln!(
                    out,
                    "{:<14} {:<10} {:>7} {:>7} {:>9} {:>7} {:>11}",
                    row.trouble,
                    set,
                    scores.samples,
                    decimals(scores.brier),
                    decimals(scores.base_rate),
                    decimals(scores.skill),
                    points(scores.largest_gap),
                )?;
            }
        }
        Ok(())
    }

    fn write_reliability(&self, out: &mut String) -> std::fmt::Result {
        for row in &self.chances {
            writeln!(
                out,
                "\nRELIABILITY {}, shortened set (events: {}; left out: {} on already, {} past the end)",
                row.trouble, row.events, row.left_out_on_already, row.left_out_past_end
            )?;
            writeln!(
                out,
                "{:>9} {:>7} {:>11} {:>9} {:>6}",
                "chance", "samples", "mean chance", "observed", "gap"
            )?;
            for bin in &row.shortened.bins {
                writeln!(
                    out,
                    "{:>9} {:>7} {:>11} {:>9} {:>6}{}",
                    format!("{}-{} %", bin.from_percent, bin.from_percent + 10),
                    bin.samples,
                    percent(Some(bin.mean_chance)),
                    percent(Some(bin.observed)),
                    points(Some(bin.gap)),
                    if bin.thin { "  thin" } else { "" },
                )?;
            }
        }
        Ok(())
    }
}

impl Chances {
    fn new(trouble: String, events: u64, marks: &ChanceMarks) -> Self {
        Self {
            trouble,
            events,
            left_out_on_already: marks.on_already,
            left_out_past_end: marks.past_end,
            whole: ChanceSet::new(&marks.whole),
            censored: ChanceSet::new(&marks.censored),
            shortened: ChanceSet::new(&marks.shortened),
        }
    }

    /// The three sets with their names.
    #[must_use]
    pub fn sets(&self) -> [(&'static str, &ChanceSet); 3] {
        [
            ("whole", &self.whole),
            ("censored", &self.censored),
            ("shortened", &self.shortened),
        ]
    }
}

impl ChanceSet {
    fn new(sums: &Reliability) -> Self {
        let bins = sums.bins();
        Self {
            samples: sums.samples(),
            brier: sums.brier(),
            base_rate: sums.base_rate(),
            skill: sums.skill(),
            largest_gap: bins
                .iter()
                .filter(|bin| !bin.thin)
                .map(|bin| bin.gap)
                .max_by(|a, b| a.abs().total_cmp(&b.abs())),
            bins,
        }
    }
}

impl Told {
    fn new(trouble: String, class: Class, counts: &Counts) -> Self {
        let ratio = |part: u64, of: u64| (of > 0).then(|| part as f64 / of as f64);
        let (true_alarms, false_alarms) = (counts.fate(Fate::True), counts.fate(Fate::False));
        let mut leads_s = counts.leads_s.clone();
        leads_s.sort_by(f64::total_cmp);
        Self {
            trouble,
            class,
            events: counts.events,
            detected: counts.detected,
            detection: ratio(counts.detected, counts.events),
            leads: leads_s.len(),
            lead_median_s: quantile(&leads_s, 0.5),
            lead_p10_s: quantile(&leads_s, 0.1),
            true_alarms,
            false_alarms,
            false_alarm_ratio: ratio(false_alarms, true_alarms + false_alarms),
            told: counts.fate(Fate::Told),
            late: counts.fate(Fate::Late),
            averted: counts.fate(Fate::Averted),
            withdrawn: counts.fate(Fate::Withdrawn),
            lost: counts.fate(Fate::Lost),
            open: counts.fate(Fate::Open),
        }
    }
}

fn name(trouble: Option<Trouble>) -> String {
    trouble.map_or_else(|| "all".to_owned(), |trouble| trouble.to_string())
}

/// Linear between sorted values, at (n - 1) q.
fn quantile(sorted: &[f64], q: f64) -> Option<f64> {
    let place = sorted.len().checked_sub(1)? as f64 * q;
    let low = sorted.get(place.floor() as usize)?;
    let high = sorted.get(place.ceil() as usize)?;
    Some(low + (high - low) * place.fract())
}

fn or_dash(value: Option<f64>, words: impl Fn(f64) -> String) -> String {
    value.map_or("-".to_owned(), words)
}

fn share(value: Option<f64>) -> String {
    or_dash(value, |v| format!("{v:.2}"))
}

fn decimals(value: Option<f64>) -> String {
    or_dash(value, |v| format!("{v:.3}"))
}

fn seconds(value: Option<f64>) -> String {
    or_dash(value, |v| format!("{v:.1} s"))
}

fn percent(value: Option<f64>) -> String {
    or_dash(value, |v| format!("{:.0} %", 100.0 * v))
}

/// Percentage points with their sign.
fn points(value: Option<f64>) -> String {
    or_dash(value, |v| format!("{:+.0} pt", 100.0 * v))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_lie_between_their_neighbours() {
        assert_eq!(quantile(&[], 0.5), None);
        assert_eq!(quantile(&[4.0], 0.1), Some(4.0));
        assert_eq!(quantile(&[0.0, 10.0], 0.1), Some(1.0));
        assert_eq!(quantile(&[1.0, 2.0, 4.0], 0.5), Some(2.0));
    }
}
