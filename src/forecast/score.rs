//! Scores of advice against what truly happened: pure arithmetic, for tests and for tuning.
//!
//! In: the true immersion over time, what was told and when, chances given. Out: detection, false
//! alarms, lead times, Brier score, reliability.

/// A stretch of time, seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Its begin.
    pub from_s: f64,
    /// Its end.
    pub to_s: f64,
}

/// Stretches in which `holds` for at least `least_s`; those closer than `join_s` are one.
#[must_use]
pub fn events(
    series: &[(f64, f64)],
    least_s: f64,
    join_s: f64,
    holds: impl Fn(f64) -> bool,
) -> Vec<Span> {
    let mut raw: Vec<Span> = Vec::new();
    let mut open: Option<Span> = None;
    for (t_s, value) in series {
        if holds(*value) {
            let span = open.get_or_insert(Span {
                from_s: *t_s,
                to_s: *t_s,
            });
            span.to_s = *t_s;
        } else if let Some(span) = open.take() {
            raw.push(span);
        }
    }
    raw.extend(open);
    let mut joined: Vec<Span> = Vec::new();
    for span in raw
        .into_iter()
        .filter(|span| span.to_s - span.from_s >= least_s)
    {
        match joined.last_mut() {
            Some(last) if span.from_s - last.to_s < join_s => last.to_s = span.to_s,
            _ => joined.push(span),
        }
    }
    joined
}

/// What came of a list of events and a list of warnings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// Events told of before they began.
    pub hits: usize,
    /// Events told of only when they were there, or not at all.
    pub misses: usize,
    /// Warnings that nothing followed.
    pub false_alarms: usize,
    /// Seconds from warning to event, one for each hit.
    pub leads_s: Vec<f64>,
}

impl Tally {
    /// Share of events told of in time; `None` without events.
    #[must_use]
    pub fn detection(&self) -> Option<f64> {
        let all = self.hits + self.misses;
        (all > 0).then(|| self.hits as f64 / all as f64)
    }

    /// Share of warnings that nothing followed; `None` without warnings.
    #[must_use]
    pub fn false_alarm_ratio(&self) -> Option<f64> {
        let all = self.hits + self.false_alarms;
        (all > 0).then(|| self.false_alarms as f64 / all as f64)
    }

    /// Quantile of the lead time.
    #[must_use]
    pub fn lead_s(&self, quantile: f64) -> Option<f64> {
        let mut leads = self.leads_s.clone();
        leads.sort_by(f64::total_cmp);
        let last = leads.len().checked_sub(1)?;
        leads
            .get((quantile.clamp(0.0, 1.0) * last as f64).round() as usize)
            .copied()
    }

    /// Both together.
    #[must_use]
    pub fn and(mut self, other: &Self) -> Self {
        self.hits += other.hits;
        self.misses += other.misses;
        self.false_alarms += other.false_alarms;
        self.leads_s.extend(&other.leads_s);
        self
    }
}

/// Matches warnings (while they were alive) to events. A warning that was alive when an event
/// began, or that ended less than `slack_s` before, has told of it. A warning raised while an
/// event goes on is neither a hit nor a false alarm of its own.
#[must_use]
pub fn tally(events: &[Span], warnings: &[Span], slack_s: f64) -> Tally {
    let mut tally = Tally::default();
    for event in events {
        let told = warnings
            .iter()
            .filter(|w| w.from_s < event.from_s && w.to_s + slack_s >= event.from_s)
            .map(|w| w.from_s)
            .reduce(f64::min);
        match told {
            Some(from_s) => {
                tally.hits += 1;
                tally.leads_s.push(event.from_s - from_s);
            }
            None => tally.misses += 1,
        }
    }
    tally.false_alarms = warnings
        .iter()
        .filter(|w| {
            events
                .iter()
                .all(|e| w.to_s + slack_s < e.from_s || w.from_s > e.to_s + slack_s)
        })
        .count();
    tally
}

/// Mean squared difference between chance given and what came (0 or 1); `None` without pairs.
#[must_use]
pub fn brier(pairs: &[(f64, bool)]) -> Option<f64> {
    let sum: f64 = pairs
        .iter()
        .map(|(chance, came)| (chance - f64::from(u8::from(*came))).powi(2))
        .sum();
    (!pairs.is_empty()).then(|| sum / pairs.len() as f64)
}

/// Brier score better than always giving the base rate: 1 is perfect, 0 no better.
#[must_use]
pub fn brier_skill(pairs: &[(f64, bool)]) -> Option<f64> {
    let score = brier(pairs)?;
    let base = pairs.iter().filter(|(_, came)| *came).count() as f64 / pairs.len() as f64;
    let reference = base * (1.0 - base);
    (reference > 0.0).then(|| 1.0 - score / reference)
}

/// One bin of the reliability table: mean chance given, share that came, how many.
#[must_use]
pub fn reliability(pairs: &[(f64, bool)], bins: usize) -> Vec<(f64, f64, usize)> {
    (0..bins)
        .map(|b| {
            let (low, high) = (b as f64 / bins as f64, (b + 1) as f64 / bins as f64);
            let last = b + 1 == bins;
            let inside: Vec<&(f64, bool)> = pairs
                .iter()
                .filter(|(chance, _)| *chance >= low && (*chance < high || last))
                .collect();
            let n = inside.len();
            let of = |sum: f64| if n > 0 { sum / n as f64 } else { 0.0 };
            (
                of(inside.iter().map(|(chance, _)| chance).sum()),
                of(inside.iter().filter(|(_, came)| *came).count() as f64),
                n,
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(from_s: f64, to_s: f64) -> Span {
        Span { from_s, to_s }
    }

    #[test]
    fn hops_do_not_count_and_neighbours_are_joined() {
        let series: Vec<(f64, f64)> = (0..100)
            .map(|i| {
                let t = f64::from(i);
                let out = matches!(i, 10..=11 | 30..=34 | 38..=44 | 70..=75);
                (t, if out { 0.0 } else { 0.3 })
            })
            .collect();
        assert_eq!(
            events(&series, 3.0, 5.0, |s| s <= 0.0),
            [span(30.0, 44.0), span(70.0, 75.0)]
        );
    }

    #[test]
    fn hits_misses_and_false_alarms_are_told_apart() {
        let events = [span(50.0, 70.0), span(200.0, 220.0), span(300.0, 310.0)];
        let warnings = [span(30.0, 75.0), span(120.0, 140.0), span(302.0, 312.0)];
        let tally = tally(&events, &warnings, 5.0);
        assert_eq!((tally.hits, tally.misses, tally.false_alarms), (1, 2, 1));
        assert_eq!(tally.lead_s(0.5), Some(20.0));
        assert_eq!(tally.detection(), Some(1.0 / 3.0));
        assert_eq!(tally.false_alarm_ratio(), Some(0.5));
    }

    #[test]
    fn brier_and_skill_at_their_corners() {
        let sure = [(1.0, true), (0.0, false)];
        assert_eq!(brier(&sure), Some(0.0));
        assert_eq!(brier_skill(&sure), Some(1.0));
        let base = [(0.5, true), (0.5, false)];
        assert_eq!(brier_skill(&base), Some(0.0));
        assert_eq!(brier(&[]), None);
        let table = reliability(&[(0.05, false), (0.95, true), (1.0, true)], 10);
        assert_eq!(table[9], (0.975, 1.0, 2));
        assert_eq!(table[5].2, 0);
    }
}
