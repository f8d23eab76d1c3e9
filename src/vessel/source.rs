//! Which of several sources of one quantity to believe.
//!
//! A source is one kind of sentence from one talker on one feed (and, where one address carries
//! two sensors, one variant of it; where a feed tells senders apart, from one of them). A sender that
//! falls silent while another takes up its sentences has got a new address. Order: the patterns of the
//! settings, then a built-in preference among kinds of sentence. Rules against flapping:
//! - between sources of equal rank the one in use stays until it is stale;
//! - a source of better rank takes over only when it has been heard without a gap for the
//!   settling time, unless the one in use is stale;
//! - when every source is stale the one in use is held, growing older, until it counts as lost.

use super::sender::{Sender, SourcePattern};
use crate::decode::Talker;
use crate::time::Millis;

/// Limits of age, seconds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ages {
    /// Beyond this age another source is used, if one is live.
    pub stale_s: f64,
    /// Beyond this age the value is not believed.
    pub lost_s: f64,
    /// A better source must have lived this long to take over.
    pub settle_s: f64,
}

/// A value that may be unfit although it is fresh.
pub(super) trait Fitness {
    /// Whether it can be believed at this moment.
    fn is_fit(&self, _now: Millis) -> bool {
        true
    }
}

/// How far a source is trusted.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Trust {
    /// Nothing speaks against it.
    #[default]
    Full,
    /// It or another is wrong: it stays in use, with a lower grade.
    Marked,
    /// It is wrong: any other is better.
    Aside,
    /// The crew does not want it.
    Ignored,
}

/// Whether others on the feed send the same sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Twin {
    /// No.
    None,
    /// They do, and this one was heard first.
    First,
    /// They do, and another was heard first.
    Later,
}

/// The last value of one source.
#[derive(Debug, Clone)]
pub(super) struct Source<T> {
    /// Unique within its channel.
    pub id: u32,
    feed: String,
    origin: Option<String>,
    talker: String,
    kind: String,
    variant: u8,
    /// Whether others that were heard on its feed send the same sentence; then its name has its address.
    twin: Twin,
    rank: (usize, u8),
    /// Last value.
    pub value: T,
    /// When it came.
    pub at: Millis,
    /// Start of the stretch without a gap.
    since: Millis,
    /// How far it is trusted.
    pub trust: Trust,
}

impl<T> Source<T> {
    /// Feed, talker and kind in words, with the address where it takes that to tell sources apart.
    pub fn name(&self) -> String {
        self.sent_by().name(self.twin != Twin::None)
    }

    fn sent_by(&self) -> Sender<'_> {
        Sender {
            feed: &self.feed,
            origin: self.origin.as_deref(),
            talker: &self.talker,
            kind: &self.kind,
        }
    }

    /// Under which of these names it is listed: its own with the address, or without, as it was called
    /// while it was the only one.
    pub fn listed_as<'a>(&self, names: &'a [String]) -> Option<&'a String> {
        let plain = (self.twin != Twin::Later).then(|| self.sent_by().name(false));
        let full = self.sent_by().name(true);
        names
            .iter()
            .find(|name| **name == full || plain.as_ref() == Some(*name))
    }

    /// Who sends it.
    pub fn talker(&self) -> Option<Talker> {
        Talker::new(&self.talker)
    }

    /// Feed, address and talker.
    pub fn sender(&self) -> (String, Option<String>, String) {
        (self.feed.clone(), self.origin.clone(), self.talker.clone())
    }

    /// Whether it is of this feed, talker, kind and variant, from whatever address.
    fn is_alike(&self, sender: Sender<'_>, variant: u8) -> bool {
        self.variant == variant
            && self.kind == sender.kind
            && self.talker == sender.talker
            && self.feed == sender.feed
    }

    /// Whether one instrument sends both.
    pub fn is_of_instrument<U>(&self, other: &Source<U>) -> bool {
        self.feed == other.feed && self.origin == other.origin && self.talker == other.talker
    }
}

/// All sources of one quantity.
#[derive(Debug, Clone)]
pub(super) struct Channel<T> {
    order: Vec<SourcePattern>,
    ages: Ages,
    sources: Vec<Source<T>>,
    current: Option<u32>,
    next_id: u32,
}

/// More sources of one quantity than any boat has.
const MOST_SOURCES: usize = 24;

impl<T: Fitness> Channel<T> {
    pub fn new(order: &[SourcePattern], ages: Ages) -> Self {
        Self {
            order: order.to_vec(),
            ages,
            sources: Vec::new(),
            current: None,
            next_id: 0,
        }
    }

    /// Takes a value in. `preference` ranks kinds of sentence among sources that the settings rank
    /// alike (less is better); `variant` tells two sensors under one address apart. `merge` makes
    /// the new value, given the last one of the same source. Gives the number of the source.
    pub fn hear(
        &mut self,
        at: Millis,
        sender: Sender<'_>,
        variant: u8,
        preference: u8,
        merge: impl FnOnce(Option<&T>) -> T,
    ) -> u32 {
        // What was in use until now counts, so that a source that had gone stale must settle anew.
        self.current = self.pick(at).map(|source| source.id);
        let ages = self.ages;
        if let Some(place) = self.place_of(at, sender, variant) {
            let source = &mut self.sources[place];
            source.origin = sender.origin.map(str::to_owned);
            if at.seconds_since(source.at) > ages.stale_s {
                source.since = at;
            }
            source.value = merge(Some(&source.value));
            source.at = at;
            source.id
        } else {
            if self.sources.len() >= MOST_SOURCES
                && let Some(given_up) = self.least_wanted()
            {
                self.sources.remove(given_up);
            }
            let listed = self
                .order
                .iter()
                .position(|p| p.fits(sender.feed, sender.talker, sender.kind))
                .unwrap_or(self.order.len());
            let mut twin = Twin::None;
            for other in &mut self.sources {
                if other.is_alike(sender, variant) {
                    twin = Twin::Later;
                    if other.twin == Twin::None {
                        other.twin = Twin::First;
                    }
                }
            }
            self.sources.push(Source {
                id: self.next_id,
                feed: sender.feed.to_owned(),
                origin: sender.origin.map(str::to_owned),
                twin,
                talker: sender.talker.to_owned(),
                kind: sender.kind.to_owned(),
                variant,
                rank: (listed, preference),
                value: merge(None),
                at,
                since: at,
                trust: Trust::Full,
            });
            let id = self.next_id;
            self.next_id = self.next_id.wrapping_add(1);
            id
        }
    }

    /// Which source this is: the one of the same address, else one that has fallen silent and has got
    /// another address.
    fn place_of(&self, at: Millis, sender: Sender<'_>, variant: u8) -> Option<usize> {
        let lost_s = self.ages.lost_s.max(self.ages.stale_s);
        let alike = || {
            let all = self.sources.iter().enumerate();
            all.filter(|(_, s)| s.is_alike(sender, variant))
        };
        alike()
            .find(|(_, s)| s.origin.as_deref() == sender.origin)
            .or_else(|| alike().find(|(_, s)| at.seconds_since(s.at) > lost_s))
            .map(|(place, _)| place)
    }

    /// Says anew how far each source is trusted.
    pub fn trust(&mut self, how_far: impl Fn(&Source<T>) -> Trust) {
        for source in &mut self.sources {
            source.trust = how_far(source);
        }
    }

    /// Which source a new one replaces when there are too many: the oldest of those that the
    /// settings do not name, the one in use only as a last resort, so that forged senders cannot
    /// crowd out the boat's own.
    fn least_wanted(&self) -> Option<usize> {
        let unnamed = self.order.len();
        self.sources
            .iter()
            .enumerate()
            .min_by_key(|(_, s)| (Some(s.id) == self.current, s.rank.0 < unnamed, s.at))
            .map(|(index, _)| index)
    }

    /// The source to believe at this moment: one that is not trusted only where there is no other.
    pub fn pick(&self, now: Millis) -> Option<&Source<T>> {
        self.pick_among(now, |trust| trust < Trust::Aside)
            .or_else(|| self.pick_among(now, |trust| trust == Trust::Aside))
    }

    fn pick_among(&self, now: Millis, wanted: impl Fn(Trust) -> bool) -> Option<&Source<T>> {
        let younger = |s: &&Source<T>, limit_s: f64| {
            now.seconds_since(s.at) <= limit_s && s.value.is_fit(now) && wanted(s.trust)
        };
        let current = self
            .sources
            .iter()
            .find(|s| Some(s.id) == self.current)
            .filter(|s| younger(s, self.ages.lost_s));
        let live = || {
            self.sources
                .iter()
                .filter(|s| younger(s, self.ages.stale_s))
        };
        match current {
            Some(held) if younger(&held, self.ages.stale_s) => live()
                .filter(|s| s.rank < held.rank)
                .filter(|s| now.seconds_since(s.since) >= self.ages.settle_s)
                .min_by_key(|s| s.rank)
                .or(Some(held)),
            _ => live().min_by_key(|s| s.rank).or(current).or_else(|| {
                self.sources
                    .iter()
                    .filter(|s| younger(s, self.ages.lost_s))
                    .max_by_key(|s| s.at)
            }),
        }
    }

    /// All sources, in no particular order.
    pub fn sources(&self) -> impl Iterator<Item = &Source<T>> {
        self.sources.iter()
    }

    /// The source heard last, however old or unfit.
    pub fn last_heard(&self) -> Option<&Source<T>> {
        self.sources.iter().max_by_key(|s| s.at)
    }

    /// Whether a value this old is past its stale time.
    pub fn is_stale(&self, at: Millis, now: Millis) -> bool {
        now.seconds_since(at) > self.ages.stale_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    impl Fitness for i32 {}

    const AGES: Ages = Ages {
        stale_s: 3.0,
        lost_s: 10.0,
        settle_s: 5.0,
    };

    fn sender(feed: &'static str) -> Sender<'static> {
        Sender::on_line(feed, "HE", "HDT")
    }

    fn channel(order: &[&str]) -> Channel<i32> {
        let order: Vec<_> = order.iter().map(|p| p.parse().unwrap()).collect();
        Channel::new(&order, AGES)
    }

    fn tell(c: &mut Channel<i32>, t_s: f64, feed: &'static str, value: i32) {
        c.hear(
            Millis(0).plus_seconds(t_s),
            sender(feed),
            0,
            0,
            |_: Option<&i32>| value,
        );
    }

    fn value(c: &Channel<i32>, t_s: f64) -> Option<i32> {
        c.pick(Millis(0).plus_seconds(t_s)).map(|s| s.value)
    }

    #[test]
    fn equal_rank_does_not_flap() {
        let mut c = channel(&[]);
        for t in 0..20 {
            tell(&mut c, f64::from(t), "a", 1);
            tell(&mut c, f64::from(t) + 0.5, "b", 2);
            assert_eq!(value(&c, f64::from(t) + 0.9), Some(1));
        }
    }

    #[test]
    fn settings_order_wins_after_settling_and_falls_back_when_stale() {
        let mut c = channel(&["good", "poor"]);
        tell(&mut c, 0.0, "poor", 1);
        for t in 1..=5 {
            tell(&mut c, f64::from(t), "good", 2);
            tell(&mut c, f64::from(t), "poor", 1);
        }
        assert_eq!(value(&c, 5.0), Some(1));
        tell(&mut c, 6.0, "good", 2);
        assert_eq!(value(&c, 6.0), Some(2));
        // "good" falls silent; "poor" takes over when it is stale.
        for t in 7..12 {
            tell(&mut c, f64::from(t), "poor", 1);
        }
        assert_eq!(value(&c, 8.9), Some(2));
        assert_eq!(value(&c, 9.1), Some(1));
        // "good" comes back and must settle.
        tell(&mut c, 12.0, "good", 2);
        assert_eq!(value(&c, 12.0), Some(1));
    }

    #[test]
    fn the_last_source_is_held_until_lost() {
        let mut c = channel(&[]);
        tell(&mut c, 0.0, "a", 1);
        assert_eq!(value(&c, 9.9), Some(1));
        assert_eq!(value(&c, 10.1), None);
        assert!(c.last_heard().is_some());
    }

    #[test]
    fn sources_are_bounded() {
        let mut c = channel(&[]);
        let names: Vec<String> = (0..1000).map(|i| format!("f{i}")).collect();
        for (i, name) in names.iter().enumerate() {
            c.hear(
                Millis(i as i64),
                Sender::on_line(name, "HE", "HDT"),
                0,
                0,
                |_: Option<&i32>| 1,
            );
        }
        assert_eq!(c.sources.len(), MOST_SOURCES);
        // The one in use was never crowded out.
        assert_eq!(c.pick(Millis(999)).unwrap().name(), "f0 HEHDT");
    }
}
