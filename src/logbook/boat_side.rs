//! The boat's side of the logbook: from pictures to thinned rows.
//!
//! **Thinning.** A state is kept at the first picture, then when 15 s have passed since the last one
//! kept, and at once when what the crew is about, what the bait does, point of sail or tack change,
//! or when the heading is 10 degrees from the last one kept, 2 s after it at the earliest. Spans lose
//! nothing: the time between two pictures counts as what the earlier one showed, unless they are more
//! than 10 s apart; a span is cut after 60 s so that a crash costs no more. Chances lose nothing
//! either: forecasts a second apart with the same chance of a trouble are one row. What was learnt is
//! kept at the first picture, and after new reports, ten minutes apart or when the session ends.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::look::Look;
use super::rows::{ChanceRun, Doing, Row, Span, State};
use super::sail::Sailing;
use crate::angles::wrap_signed_deg;
use crate::decode::BaitState;
use crate::forecast::{Taught, Trouble};
use crate::time::Millis;
use crate::vessel::Quantity;

/// A state is kept at least so often.
const STATE_EVERY_S: f64 = 15.0;
/// Another heading is one that differs by this much ...
const HEADING_STEP_DEG: f64 = 10.0;
/// ... and is kept no sooner than this.
const HEADING_APART_S: f64 = 2.0;
/// Pictures further apart leave a gap.
const LONGEST_GAP_S: f64 = 10.0;
/// A span or a run of chances is cut at this length.
const LONGEST_RUN_S: f64 = 60.0;
/// What was learnt is kept no more often than this.
const LEARNT_EVERY_S: f64 = 600.0;
/// Forecasts so far apart make a run.
const FORECAST_EVERY_MS: i64 = 1000;

/// What a span keeps to.
type Kind = (Doing, Option<BaitState>, Option<Sailing>);

/// Follows the pictures of one session.
#[derive(Debug, Default)]
pub(super) struct BoatSide {
    zone_known: bool,
    sailing: Option<Sailing>,
    /// The picture before.
    last: Option<(Millis, Kind)>,
    span: Option<Span>,
    kept: Option<(State, Kind)>,
    missing: BTreeMap<Quantity, Millis>,
    runs: BTreeMap<Trouble, ChanceRun>,
    forecast_at: Option<Millis>,
    learnt: Learning,
}

/// What was learnt of one kite.
#[derive(Debug, Default)]
struct Learning {
    kept: Option<(Millis, Taught)>,
    /// With reports later than what is kept.
    news: Option<(Millis, Taught)>,
}

impl BoatSide {
    /// The rows of one picture.
    pub fn take(&mut self, look: &Look, rows: &mut Vec<Row>) {
        let state = &look.state;
        if let (false, Some(longitude_deg)) = (self.zone_known, state.longitude_deg) {
            self.zone_known = true;
            let hours = zone_hours(longitude_deg);
            rows.push(Row::Zone { hours });
        }
        if let Some(in_force) = &look.settings {
            // What comes now may be of another kite.
            self.learnt_ends(rows);
            rows.push(Row::Settings {
                from: look.at,
                in_force: Arc::clone(in_force),
            });
        }
        let off_bow_deg = state.wind_off_bow_deg();
        let sailing = off_bow_deg.map(|deg| Sailing::next(self.sailing, deg));
        self.sailing = sailing.or(self.sailing);
        let kind = (state.doing, state.bait, sailing);
        self.spend(look.at, rows);
        self.last = Some((look.at, kind));
        if self.is_worth_keeping(state, kind) {
            self.kept = Some((*state, kind));
            rows.push(Row::State(Box::new(*state)));
        }
        self.instruments(look, rows);
        self.chances(look, rows);
        self.learns(look, rows);
        let revisions = look.revisions.iter().cloned();
        rows.extend(revisions.map(|revision| Row::Revision(Box::new(revision))));
    }

    /// What is not written yet.
    pub fn flush(&mut self, rows: &mut Vec<Row>) {
        rows.extend(self.span.take().map(Row::Span));
        rows.extend(
            std::mem::take(&mut self.runs)
                .into_values()
                .map(Row::Chances),
        );
        self.learnt_ends(rows);
    }

    fn learns(&mut self, look: &Look, rows: &mut Vec<Row>) {
        let Some(taught) = &look.taught else {
            // Nothing is known any more: the crew had it forgotten, or it is another kite.
            self.learnt_ends(rows);
            return;
        };
        let kept = self.learnt.kept.as_ref();
        if kept.is_some_and(|(_, kept)| kept.learnt == taught.learnt) {
            self.learnt.news = None;
            return;
        }
        let is_due = kept.is_none_or(|(at, _)| look.at.seconds_since(*at) >= LEARNT_EVERY_S);
        self.learnt.news = Some((look.at, taught.clone()));
        if is_due {
            self.keep_learnt(rows);
        }
    }

    fn keep_learnt(&mut self, rows: &mut Vec<Row>) {
        if let Some((at, taught)) = self.learnt.news.take() {
            rows.push(Row::Learnt {
                at,
                taught: Box::new(taught.clone()),
            });
            self.learnt.kept = Some((at, taught));
        }
    }

    /// The last of one kite.
    fn learnt_ends(&mut self, rows: &mut Vec<Row>) {
        self.keep_learnt(rows);
        self.learnt = Learning::default();
    }

    /// The time since the picture before.
    fn spend(&mut self, at: Millis, rows: &mut Vec<Row>) {
        let Some((from, (doing, bait, sailing))) = self.last else {
            return;
        };
        let gap_s = at.seconds_since(from);
        if !(gap_s > 0.0 && gap_s <= LONGEST_GAP_S) {
            return;
        }
        let new = Span {
            from,
            to: at,
            doing,
            bait,
            point_of_sail: sailing.map(|s| s.point),
            tack: sailing.map(|s| s.tack),
        };
        match &mut self.span {
            Some(span) if continues(span, &new) => span.to = at,
            _ => rows.extend(self.span.replace(new).map(Row::Span)),
        }
    }

    fn is_worth_keeping(&self, state: &State, kind: Kind) -> bool {
        let Some((kept, kept_kind)) = &self.kept else {
            return true;
        };
        let since_s = state.at.seconds_since(kept.at);
        let turned = match (state.heading_deg_true, kept.heading_deg_true) {
            (Some(now), Some(then)) => wrap_signed_deg(now - then).abs() >= HEADING_STEP_DEG,
            (now, then) => now.is_some() != then.is_some(),
        };
        kind != *kept_kind || since_s >= STATE_EVERY_S || turned && since_s >= HEADING_APART_S
    }

    fn instruments(&mut self, look: &Look, rows: &mut Vec<Row>) {
        let missing = &look.missing;
        self.missing.retain(|quantity, from| {
            let still = missing.iter().any(|(missing, _)| missing == quantity);
            if !still {
                rows.push(Row::TroubleEnds {
                    quantity: *quantity,
                    from: *from,
                    to: look.at,
                });
            }
            still
        });
        for (quantity, why) in missing {
            self.missing.entry(*quantity).or_insert_with(|| {
                rows.push(Row::TroubleBegins {
                    quantity: *quantity,
                    from: look.at,
                    why: why.clone(),
                });
                look.at
            });
        }
    }

    /// A forecast that is shown again counts once.
    fn chances(&mut self, look: &Look, rows: &mut Vec<Row>) {
        let Some(made_at) = look.chances.first().map(|chance| chance.made_at) else {
            return;
        };
        if self.forecast_at.is_some_and(|last| last >= made_at) {
            return;
        }
        self.forecast_at = Some(made_at);
        for chance in &look.chances {
            match self.runs.get_mut(&chance.trouble) {
                Some(run) if follows(run, chance) => run.forecasts += 1,
                _ => rows.extend(self.runs.insert(chance.trouble, *chance).map(Row::Chances)),
            }
        }
    }
}

fn continues(span: &Span, new: &Span) -> bool {
    span.to == new.from
        && new.to.seconds_since(span.from) <= LONGEST_RUN_S
        && Span {
            from: new.from,
            to: new.to,
            ..*span
        } == *new
}

fn follows(run: &ChanceRun, chance: &ChanceRun) -> bool {
    let next = Millis(run.made_at.0 + i64::from(run.forecasts) * FORECAST_EVERY_MS);
    chance.made_at == next
        && f64::from(run.forecasts) < LONGEST_RUN_S
        && ChanceRun {
            made_at: chance.made_at,
            forecasts: chance.forecasts,
            ..*run
        } == *chance
}

/// The zone that ships keep at a longitude: one hour for every 15 degrees.
fn zone_hours(longitude_deg: f64) -> i32 {
    (longitude_deg / 15.0).round() as i32
}
