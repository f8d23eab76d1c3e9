//! The suspicions and their life.

use std::collections::BTreeMap;

use super::checks::CHECKS;
use super::habit::{Changed, EVERY_S, Habits};
use super::suspicion::{Instrument, Suspicion, Verdict};
use super::track::{Said, Track};
use super::view::View;
use crate::time::Millis;

/// A suspicion that nothing has put to the test for so long is dropped, seconds.
const FORGIVEN_S: u32 = 600;
/// A source silent for so long is forgotten.
const FORGOTTEN_S: i64 = 180;
/// A suspect that is silent is not spoken of: its silence is.
const SILENT_S: i64 = 10;
/// More sources than any boat has.
const MOST_TRACKS: usize = 64;

/// How one check stands with one source.
#[derive(Debug, Clone, Default)]
struct Standing {
    /// Seconds in a row in which it lied.
    lied_s: u32,
    /// Seconds in which it held since it last lied.
    held_s: u32,
    /// Seconds since it last lied.
    quiet_s: u32,
    suspicion: Option<Suspicion>,
}

/// Which check, what is measured, which source.
type Key = (usize, Instrument, u32);

/// Follows all sources, and holds what is suspected.
#[derive(Debug, Clone, Default)]
pub struct Doubts {
    tracks: Vec<Track>,
    standings: BTreeMap<Key, Standing>,
    habits: BTreeMap<(Instrument, u32), Habits>,
    second: Option<i64>,
}

impl Doubts {
    /// Ends every second before `at`; true when what is suspected has changed. Call it before the
    /// readings of `at` are heard; moments must not run back.
    pub fn follow(&mut self, at: Millis) -> bool {
        let second = at.0.div_euclid(1000);
        let before = self.second.replace(second);
        if before.is_none_or(|before| before >= second) {
            return false;
        }
        self.judge(second - 1)
    }

    /// Takes a reading in. `source` tells sources of one instrument apart; those with one `sender`, and
    /// what [`REPEATS`](super::REPEATS) others, are no witnesses for or against each other.
    pub fn hear(&mut self, at: Millis, of: Instrument, (source, sender): (u32, u32), said: Said) {
        let own = |track: &&mut Track| track.of == of && track.id == source;
        if let Some(track) = self.tracks.iter_mut().find(own) {
            track.hear(at, said);
            return;
        }
        if self.tracks.len() >= MOST_TRACKS {
            return;
        }
        let mut track = Track::new(of, source, sender);
        track.hear(at, said);
        self.tracks.push(track);
    }

    /// What is suspected, at most one suspicion for each source: that of the check that stands first.
    #[must_use]
    pub fn suspicions(&self) -> Vec<&Suspicion> {
        let mut found: Vec<&Suspicion> = Vec::new();
        for standing in self.standings.values() {
            let Some(suspicion) = &standing.suspicion else {
                continue;
            };
            let of_same = |s: &&Suspicion| {
                s.instrument == suspicion.instrument && s.source == suspicion.source
            };
            if !found.iter().any(of_same) {
                found.push(suspicion);
            }
        }
        found.retain(|suspicion| self.speaks(suspicion));
        found
    }

    /// Which habit a source has changed.
    #[must_use]
    pub fn habit(&self, of: Instrument, source: u32) -> Option<&Changed> {
        self.habits.get(&(of, source))?.changed()
    }

    /// What is heard is of another kind from now on: habits are learnt anew.
    pub fn forget_habits(&mut self) {
        self.habits.clear();
    }

    fn speaks(&self, suspicion: &Suspicion) -> bool {
        let now = self.second.unwrap_or_default();
        self.tracks.iter().any(|track| {
            track.of == suspicion.instrument
                && track.id == suspicion.source
                && track.last_second() >= now - SILENT_S
        })
    }

    fn judge(&mut self, now: i64) -> bool {
        self.tracks
            .retain(|track| track.last_second() >= now - FORGOTTEN_S);
        let tracks = &self.tracks;
        self.standings.retain(|(_, of, id), _| {
            tracks
                .iter()
                .any(|track| track.of == *of && track.id == *id)
        });
        let mut suspect: Vec<(Instrument, u32)> = self
            .standings
            .iter()
            .filter(|(_, standing)| standing.suspicion.is_some())
            .map(|((_, of, id), _)| (*of, *id))
            .collect();
        if now.rem_euclid(EVERY_S) == 0 {
            self.look_at_habits(now, &suspect);
        }
        let mut changed = false;
        for (number, check) in CHECKS.iter().enumerate() {
            for track in &self.tracks {
                if !check.of.contains(&track.of) || track.last_second() < now - 1 {
                    continue;
                }
                let view = View {
                    now,
                    tracks: &self.tracks,
                    suspect: &suspect,
                };
                let verdict = (check.judge)(&view, track);
                let key = (number, track.of, track.id);
                if verdict == Verdict::Untested && !self.standings.contains_key(&key) {
                    continue;
                }
                let standing = self.standings.entry(key).or_default();
                let was = standing.suspicion.is_some();
                standing.follow(number, track, now, verdict);
                let is = standing.suspicion.is_some();
                changed |= was != is;
                if is && !was {
                    suspect.push((track.of, track.id));
                }
            }
        }
        changed
    }

    fn look_at_habits(&mut self, now: i64, suspect: &[(Instrument, u32)]) {
        let Self { tracks, habits, .. } = self;
        habits.retain(|(of, id), _| tracks.iter().any(|t| t.of == *of && t.id == *id));
        let view = View {
            now,
            tracks: tracks.as_slice(),
            suspect,
        };
        for track in tracks.iter().filter(|t| t.last_second() >= now - 1) {
            let habits = habits.entry((track.of, track.id)).or_default();
            habits.look(&view, track);
        }
        for track in tracks {
            let own = habits.get(&(track.of, track.id));
            track.sounds_like_two = own.is_some_and(Habits::sounds_like_two);
        }
    }
}

impl Standing {
    fn follow(&mut self, number: usize, track: &Track, now: i64, verdict: Verdict) {
        let check = &CHECKS[number];
        match verdict {
            Verdict::Lies(found) => {
                self.lied_s += 1;
                (self.held_s, self.quiet_s) = (0, 0);
                if self.suspicion.is_none() && self.lied_s >= check.told_after_s {
                    self.suspicion = Some(Suspicion {
                        instrument: track.of,
                        source: track.id,
                        fault: check.fault,
                        since: Millis((now + 1 - i64::from(self.lied_s)) * 1000),
                        seen: found.seen,
                        expected: found.expected,
                        look: found.look,
                        at_fault: found.at_fault,
                        wind_before: found.wind_before,
                    });
                }
            }
            verdict => {
                self.lied_s = 0;
                self.quiet_s = self.quiet_s.saturating_add(1);
                if verdict == Verdict::Holds {
                    self.held_s = self.held_s.saturating_add(1);
                }
                if self.held_s >= check.back_after_s || self.quiet_s >= FORGIVEN_S {
                    self.suspicion = None;
                }
            }
        }
    }
}
