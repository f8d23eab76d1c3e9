//! A day cut into the times of its kites. Pure.

use std::borrow::Cow;

use super::day::{DayRows, SessionRows};
use super::in_force::Kite;
use crate::time::Millis;

/// The time of one kite on one day.
#[derive(Debug)]
pub(super) struct KitePart<'a> {
    /// Which; `None` where the settings were not kept.
    pub kite: Option<Kite>,
    /// Its sessions, or the parts of them in which it flew.
    pub sessions: Vec<Cow<'a, SessionRows>>,
}

/// The kites of a day in the order in which they flew first.
pub(super) fn by_kite(day: &DayRows) -> Vec<KitePart<'_>> {
    let mut parts: Vec<KitePart<'_>> = Vec::new();
    let mut add = |kite: Option<&Kite>, session| {
        let key = kite.map(Kite::key);
        match parts
            .iter_mut()
            .find(|part| part.kite.as_ref().map(Kite::key) == key)
        {
            Some(part) => part.sessions.push(session),
            None => parts.push(KitePart {
                kite: kite.cloned(),
                sessions: vec![session],
            }),
        }
    };
    for session in &day.sessions {
        if let [] | [_] = &session.kites[..] {
            let kite = session.kites.first().map(|(_, kite)| kite);
            add(kite, Cow::Borrowed(session));
            continue;
        }
        let later = session.kites.iter().skip(1).map(|(from, _)| *from);
        let ends = later.chain([Millis(i64::MAX)]);
        let mut from = Millis(i64::MIN);
        for ((_, kite), to) in session.kites.iter().zip(ends) {
            add(Some(kite), Cow::Owned(session.between(from, to)));
            from = to;
        }
    }
    parts
}

impl SessionRows {
    /// What of it lies between two moments, the second not included; a span or a run of chances lies
    /// where it begins.
    fn between(&self, from: Millis, to: Millis) -> Self {
        let lies = |at: Millis| from <= at && at < to;
        fn kept<T: Clone>(rows: &[T], lies: impl Fn(&T) -> bool) -> Vec<T> {
            rows.iter().filter(|row| lies(row)).cloned().collect()
        }
        Self {
            from: self.from.max(from),
            sentences: kept(&self.sentences, |(at, _)| lies(*at)),
            revisions: kept(&self.revisions, |row| lies(row.at)),
            chances: kept(&self.chances, |row| lies(row.made_at)),
            spans: kept(&self.spans, |row| lies(row.from)),
            states: kept(&self.states, |row| lies(row.at)),
            bites: kept(&self.bites, |row| lies(row.at)),
            moves: kept(&self.moves, |row| lies(row.at)),
            bait_told: kept(&self.bait_told, |(at, _)| lies(*at)),
            turns: kept(&self.turns, |row| lies(row.at)),
            advisories: kept(&self.advisories, |row| lies(row.raised_at)),
            troubles: kept(&self.troubles, |row| lies(row.from)),
            kites: kept(&self.kites, |(at, _)| lies(*at)),
            learnt: kept(&self.learnt, |row| lies(row.at)),
            marks: kept(&self.marks, |mark| lies(mark.from)),
            mark_changes: kept(&self.mark_changes, |row| lies(row.at)),
            passes: kept(&self.passes, |row| lies(row.offered_at)),
        }
    }
}
