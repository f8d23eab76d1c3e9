//! Counts of a part of a day that add up: what the figures of a day, and of many, are made of. Pure.
//! Definitions: head of `figures`.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::day::{BiteRow, MoveRow, SessionRows};
use super::rows::{ChanceRun, Doing, Span};
use super::sail::{PointOfSail, Tack};
use super::shapes::{Against, BiteRate, Corrections, TimeIn};
use crate::decode::{BaitState, Line};
use crate::forecast::Chance;
use crate::score::{Marks, Rules, Tally};
use crate::time::Millis;

/// What the crew said of the bait holds no longer than this.
const TOLD_HOLDS_S: f64 = 600.0;
/// A smaller move is none.
const LEAST_MOVE_M: f64 = 0.5;
/// A rate needs so much time.
const RATE_FROM_S: f64 = 3600.0;
/// A thinned state stands no longer than this.
const STATE_HOLDS_S: f64 = 20.0;

/// Sums of time, each kind in the order of its words.
#[derive(Debug, Clone, PartialEq, Default)]
struct Times(BTreeMap<(BaitState, Option<PointOfSail>, Option<Tack>), f64>);

impl Times {
    fn add(&mut self, bait: BaitState, span: &Span, time_s: f64) {
        let kind = (bait, span.point_of_sail, span.tack);
        *self.0.entry(kind).or_default() += time_s;
    }

    fn merge(&mut self, other: &Self) {
        for (kind, time_s) in &other.0 {
            *self.0.entry(*kind).or_default() += time_s;
        }
    }

    fn list(&self) -> Vec<TimeIn> {
        let shown = |(&(bait, point_of_sail, tack), &time_s)| TimeIn {
            bait,
            point_of_sail,
            tack,
            time_s,
        };
        self.0.iter().map(shown).collect()
    }
}

/// One bin of bites and time.
#[derive(Debug, Clone, PartialEq, Default)]
struct InBin {
    bites: u64,
    fishing_s: f64,
    days: BTreeSet<NaiveDate>,
}

/// Counts that add up.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tallies {
    pub watched_s: f64,
    pub fishing_s: f64,
    pub bites: u64,
    /// Time fished in a wind, each state's, m/s.
    wind: Vec<(f64, f64)>,
    by_model: Times,
    by_crew: Times,
    kite_moves: u64,
    main_moves: u64,
    bins: BTreeMap<(Against, i64), InBin>,
    pub marks: Marks,
}

impl Tallies {
    /// Nothing counted yet.
    pub fn new() -> Self {
        Self {
            watched_s: 0.0,
            fishing_s: 0.0,
            bites: 0,
            wind: Vec::new(),
            by_model: Times::default(),
            by_crew: Times::default(),
            kite_moves: 0,
            main_moves: 0,
            bins: BTreeMap::new(),
            marks: Marks::new(),
        }
    }

    /// Of sessions of one day.
    pub fn of_day<'a>(date: NaiveDate, sessions: impl Iterator<Item = &'a SessionRows>) -> Self {
        let mut sum = Self::new();
        for session in sessions {
            sum.session(session);
        }
        for bin in sum.bins.values_mut() {
            bin.days.insert(date);
        }
        sum
    }

    fn session(&mut self, session: &SessionRows) {
        self.watched_s += session.spans.iter().map(length_s).sum::<f64>();
        self.fishing_s += fishing_s(session);
        for (span, bait) in fished(session) {
            self.by_model.add(bait, span, length_s(span));
        }
        told_time(session, &mut self.by_crew);
        let moves = |line: Line| {
            let of_line = |m: &&MoveRow| m.line == line;
            let moves = session.moves.iter().filter(of_line);
            moves.filter(|m| m.by_m.abs() >= LEAST_MOVE_M).count() as u64
        };
        self.kite_moves += moves(Line::Kite);
        self.main_moves += moves(Line::Main);
        self.bites += session.bites.len() as u64;
        self.time_in_bins(session);
        for bite in &session.bites {
            self.bite_in_bins(bite);
        }
        self.marks.merge(&marks(session));
    }

    fn time_in_bins(&mut self, session: &SessionRows) {
        for pair in session.states.windows(2) {
            let [state, next] = pair else { continue };
            if state.doing != Doing::Fishing || state.bait.is_none() {
                continue;
            }
            let stands_s = next.at.seconds_since(state.at).min(STATE_HOLDS_S);
            for against in Against::ALL {
                if let Some(bin) = against.bin(state) {
                    self.bins.entry((against, bin)).or_default().fishing_s += stands_s;
                }
            }
            let wind = state.wind_at_sensor_mps.map(|mps| (mps, stands_s));
            self.wind.extend(wind);
        }
    }

    fn bite_in_bins(&mut self, bite: &BiteRow) {
        for against in Against::ALL {
            if let Some(bin) = against.bin(&bite.state) {
                self.bins.entry((against, bin)).or_default().bites += 1;
            }
        }
    }

    /// The wind that half of the fishing time had no more than; `None` where it was never known.
    pub fn median_wind_mps(&self) -> Option<f64> {
        let mut winds = self.wind.clone();
        winds.sort_by(|a, b| a.0.total_cmp(&b.0));
        let half_s: f64 = winds.iter().map(|(_, time_s)| time_s).sum::<f64>() / 2.0;
        let mut passed_s = 0.0;
        let median = winds.iter().find(|(_, time_s)| {
            passed_s += time_s;
            passed_s >= half_s
        });
        median.map(|(mps, _)| *mps)
    }

    /// Gives up what only the median wind needs.
    pub fn without_wind(mut self) -> Self {
        self.wind = Vec::new();
        self
    }

    /// Adds the counts of another part.
    pub fn merge(&mut self, other: &Self) {
        self.watched_s += other.watched_s;
        self.fishing_s += other.fishing_s;
        self.bites += other.bites;
        self.wind.extend(&other.wind);
        self.by_model.merge(&other.by_model);
        self.by_crew.merge(&other.by_crew);
        self.kite_moves += other.kite_moves;
        self.main_moves += other.main_moves;
        for (key, more) in &other.bins {
            let bin = self.bins.entry(*key).or_default();
            bin.bites += more.bites;
            bin.fishing_s += more.fishing_s;
            bin.days.extend(&more.days);
        }
        self.marks.merge(&other.marks);
    }

    /// What the bait did, by the model.
    pub fn by_model(&self) -> Vec<TimeIn> {
        self.by_model.list()
    }

    /// What the bait did, by the crew.
    pub fn by_crew(&self) -> Vec<TimeIn> {
        self.by_crew.list()
    }

    /// Moves of lines.
    pub fn corrections(&self) -> Corrections {
        Corrections {
            kite: self.kite_moves,
            main: self.main_moves,
            per_hour: per_hour(self.kite_moves + self.main_moves, self.fishing_s),
        }
    }

    /// Bites in an hour of fishing.
    pub fn bites_per_hour(&self) -> Option<f64> {
        per_hour(self.bites, self.fishing_s)
    }

    /// Bites against each quantity.
    pub fn bite_rates(&self) -> Vec<BiteRate> {
        let rate = |(&(against, number), bin): (&(Against, i64), &InBin)| BiteRate {
            against,
            from: number as f64 * against.step(),
            to: (number + 1) as f64 * against.step(),
            bites: bin.bites,
            fishing_s: bin.fishing_s,
            per_hour: per_hour(bin.bites, bin.fishing_s),
            days: bin.days.len() as u64,
        };
        self.bins.iter().map(rate).collect()
    }
}

/// Time fished.
pub(super) fn fishing_s(session: &SessionRows) -> f64 {
    fished(session).map(|(span, _)| length_s(span)).sum()
}

/// Spans in which the crew fished and there was a forecast, with what it held that the bait did.
fn fished(session: &SessionRows) -> impl Iterator<Item = (&Span, BaitState)> {
    let fishing = |span: &&Span| span.doing == Doing::Fishing;
    let spans = session.spans.iter().filter(fishing);
    spans.filter_map(|span| Some((span, span.bait?)))
}

fn length_s(span: &Span) -> f64 {
    span.to.seconds_since(span.from)
}

fn per_hour(count: u64, time_s: f64) -> Option<f64> {
    (time_s >= RATE_FROM_S).then(|| count as f64 / (time_s / 3600.0))
}

/// Time by what the crew said that the bait did.
fn told_time(session: &SessionRows, times: &mut Times) {
    for (i, (said_at, bait)) in session.bait_told.iter().enumerate() {
        let next = session.bait_told.get(i + 1).map(|(at, _)| *at);
        let latest = said_at.plus_seconds(TOLD_HOLDS_S);
        let until = next.map_or(latest, |next| next.min(latest));
        let first = session.spans.partition_point(|span| span.to <= *said_at);
        let spans = session.spans.iter().skip(first);
        for span in spans.take_while(|span| span.from < until) {
            if span.doing != Doing::Fishing {
                break;
            }
            let (from, to) = (span.from.max(*said_at), span.to.min(until));
            times.add(*bait, span, to.seconds_since(from));
        }
    }
}

/// What `score` makes of a session: a recording without a truth.
fn marks(session: &SessionRows) -> Marks {
    let mut tally = Tally::new();
    for (at, sentence) in &session.sentences {
        tally.sentence(*at, sentence);
    }
    for revision in &session.revisions {
        tally.revised(revision);
    }
    for (made_at, (horizon_s, chances)) in forecasts(&session.chances) {
        tally.made(made_at, horizon_s, &chances);
    }
    tally.end(session.from, None, &Rules::default())
}

/// The forecasts that were made, each with its chances.
fn forecasts(runs: &[ChanceRun]) -> BTreeMap<Millis, (f64, Vec<Chance>)> {
    let mut made: BTreeMap<Millis, (f64, Vec<Chance>)> = BTreeMap::new();
    for run in runs {
        for i in 0..run.forecasts {
            let made_at = run.made_at.plus_seconds(f64::from(i));
            let (_, chances) = made.entry(made_at).or_insert((run.horizon_s, Vec::new()));
            chances.push(Chance {
                kind: run.trouble,
                chance: run.chance,
                so_now: run.so_now,
                onset_s: run.onset_s,
                later_s: None,
                chance_with_plan: None,
            });
        }
    }
    made
}
