//! The particle filter: what is believed about rig and air.
//!
//! In: the moment (boat, air, line out), and the crew's reports and retractions as events of the
//! deck's log. Out: weighted [`Particles`], each with a rig that has moved with the boat up to now.

mod belief;
mod likelihood;
mod particle;
mod particles;
mod updates;

use crate::angles::wrap_signed;
use crate::decode::{BaitState, CrewInput};
use crate::time::Millis;
use crate::units::{in_metres, in_radians};
use crate::vessel::{CrewEvent, DeckNow, Report, UNDO_WINDOW_S};

#[cfg(test)]
pub use belief::Traits;
pub use belief::{Belief, Counted, KeptBelief, Moments};
pub use particle::{Now, Particle, off_astern_rad};
pub use particles::Particles;

use likelihood::Sighting;
use particle::Stretch;
use particles::{Heard, Source};

/// After a longer gap the rig is settled again.
const GAP_S: f64 = 6.0;
/// Ticks closer than this count as one.
const LEAST_TICK_S: f64 = 0.4;
/// Shortest stretch of motion, s.
const LEAST_STRETCH_S: f64 = 0.01;
/// While nobody asks anything of them, particles follow the boat at this interval.
const REST_S: f64 = 1.9;
/// A new count that differs by more than this share means that the rig was set out again.
const NEW_RIG_SHARE: f64 = 0.35;
/// A bait that is seen to skip within this time after hands moved line is where they wanted it. Own
/// judgement.
const TRIMMED_WITHIN_S: f64 = 90.0;
/// Events that may wait for the next update.
const MOST_WAITING: usize = 256;

/// The filter.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    /// `None` until the first update, and after [`Filter::forget`].
    particles: Option<Particles>,
    /// Reports and retractions since the last update.
    waiting: Vec<CrewEvent>,
    counted: Option<Counted>,
    /// The count before each report of line that can still be taken back, with its number.
    counts_before: Vec<(u64, Millis, Option<Counted>)>,
    last: Option<Tick>,
    /// When hands moved line that no plan asked for, while nobody has said since what the bait does.
    trimmed_at: Option<Millis>,
    /// When the crew last saw the bait skip.
    pub anchored_at: Option<Millis>,
    /// When the last report contradicted nearly every particle.
    pub contradicted_at: Option<Millis>,
}

#[derive(Debug, Clone, Copy)]
struct Tick {
    at: Millis,
    heading_rad: f64,
    speed_mps: f64,
}

/// What an update did.
#[derive(Debug, Clone, Copy, Default)]
pub struct Updated {
    /// There were reports or retractions.
    pub news: bool,
    /// By how much the number of learnt reports changed; negative when some were taken back.
    pub lessons: i64,
}

impl Filter {
    /// Whether the particles are drawn.
    pub fn has_begun(&self) -> bool {
        self.particles.is_some()
    }

    /// Starts from these particles.
    pub fn begin(&mut self, particles: Particles) {
        self.particles = Some(particles);
    }

    /// The particles; `None` before the first update.
    pub fn particles(&self) -> Option<&Particles> {
        self.particles.as_ref()
    }

    /// The particles are drawn anew at the next update; the crew's count stays.
    pub fn redraw(&mut self) {
        self.particles = None;
    }

    /// Starts anew; reports made before do not count again.
    pub fn forget(&mut self) {
        *self = Self {
            last: self.last,
            ..Self::default()
        };
    }

    /// Rig numbers that do not affect motion have changed.
    pub fn rig_anew(&mut self) {
        if let Some(particles) = &mut self.particles {
            particles.rig_anew();
        }
    }

    /// Takes in an event of the deck's log, for the next update.
    pub fn observe(&mut self, event: &CrewEvent) {
        match event {
            CrewEvent::Reported(report) => {
                if kind(report).is_none() {
                    return;
                }
                self.drop_superseded(report.at);
            }
            CrewEvent::Retracted { report, .. } => {
                let waits = |event: &CrewEvent| {
                    reported(event).is_some_and(|waiting| waiting.number == report.number)
                };
                if let Some(i) = self.waiting.iter().position(waits) {
                    self.waiting.remove(i);
                    return;
                }
            }
        }
        let over = (self.waiting.len() + 1).saturating_sub(MOST_WAITING);
        self.waiting.drain(..over);
        self.waiting.push(event.clone());
    }

    /// Drops waiting reports that a later one of the same kind has replaced for good: while no
    /// forecast can be made, reports may wait for hours.
    fn drop_superseded(&mut self, at: Millis) {
        let late = |report: &Report| at.seconds_since(report.at) > UNDO_WINDOW_S;
        let mut seen = Vec::new();
        let mut kept: Vec<CrewEvent> = std::mem::take(&mut self.waiting);
        kept.reverse();
        kept.retain(|event| {
            let Some(report) = reported(event) else {
                return true;
            };
            let kind = kind(report);
            let replaced = seen.contains(&kind);
            seen.push(kind);
            !(replaced && late(report))
        });
        kept.reverse();
        self.waiting = kept;
    }

    /// Whether an update can wait: the crew has reported nothing, and the particles are nearly where
    /// the boat is.
    pub fn rests(&self, at: Millis) -> bool {
        let near = |last: Tick| (0.0..REST_S).contains(&at.seconds_since(last.at));
        self.waiting.is_empty() && self.last.is_some_and(near)
    }

    /// Propagates the particles to the present and applies what the crew reported and took back.
    /// `now` holds the count of the deck as if it had just been read.
    pub fn update(&mut self, at: Millis, deck: &DeckNow, mut now: Now<'_>) -> Updated {
        let Some(mut particles) = self.particles.take() else {
            return Updated::default();
        };
        let events = std::mem::take(&mut self.waiting);
        let mut updated = self.take_back(&events, deck, &mut particles, &mut now);
        let (first_out, lines_news) = self.count(at, deck, &events, &mut particles, &mut now);
        self.propagate(at, &mut particles, &now, updated.news || lines_news);
        if let Some(source) = first_out {
            particles.weigh(source, Sighting::Trimmed, &now);
            particles.find_typical(&now);
        }
        updated.news |= lines_news;
        self.weigh(at, deck, &events, &mut particles, &now, &mut updated);
        particles.renew(at, &now);
        self.particles = Some(particles);
        updated
    }

    /// Applies the retractions.
    fn take_back(
        &mut self,
        events: &[CrewEvent],
        deck: &DeckNow,
        particles: &mut Particles,
        now: &mut Now<'_>,
    ) -> Updated {
        let mut updated = Updated::default();
        let read = now.counted;
        for event in events {
            let CrewEvent::Retracted { report, .. } = event else {
                continue;
            };
            let counted =
                |before: Option<Counted>| before.map_or(read, |before| before.moved_to(read));
            let count = self
                .counts_before
                .iter()
                .position(|(number, ..)| *number == report.number)
                .map(|i| self.counts_before.remove(i).2);
            if count.is_none() && sighting(report).is_none() {
                continue;
            }
            now.counted = counted(count.unwrap_or(self.counted));
            let known = particles.take_back(report.number, now);
            if count.is_some() {
                self.trimmed_at = None;
            }
            if let (Some(before), true) = (count, known) {
                self.counted = before.map(|before| before.moved_to(read));
            }
            if let Some(seen) = sighting(report) {
                updated.lessons -= i64::from(known);
                self.contradicted_at = None;
                if matches!(seen, Sighting::Bait(_)) {
                    let skips = deck.bait.filter(|seen| seen.state == BaitState::Skipping);
                    self.anchored_at = skips.map(|seen| seen.at);
                }
            }
            updated.news = true;
        }
        if updated.news {
            particles.find_typical(now);
        }
        now.counted = read;
        updated
    }

    /// Applies what was said of line out. Returns the source of the count when the rig is out for
    /// the first time or again, and whether there was news.
    fn count(
        &mut self,
        at: Millis,
        deck: &DeckNow,
        events: &[CrewEvent],
        particles: &mut Particles,
        now: &mut Now<'_>,
    ) -> (Option<Source>, bool) {
        let read = now.counted;
        let (mut last, mut told, mut afresh) = (None, false, false);
        for report in events.iter().filter_map(reported) {
            if let Some((kite, main)) = report.input.counted() {
                let differs = |new: Option<f64>, old: fn(&Counted) -> f64| {
                    new.zip(self.counted.as_ref().map(old))
                        .is_some_and(|(new, old)| (new - old).abs() > NEW_RIG_SHARE * old)
                };
                told = true;
                afresh |= differs(kite.map(in_metres), |c| c.kite_m)
                    || differs(main.map(in_metres), |c| c.main_m);
            }
            if matches!(kind(report), Some(Kind::Count | Kind::Moved)) {
                last = Some(report.number);
            }
        }
        let source = Source {
            number: last,
            at: deck.lines_at.unwrap_or(at),
        };
        let before = self.counted;
        now.counted = match before {
            Some(old) if !told => old.moved_to(read),
            _ => read,
        };
        self.counted = Some(now.counted);
        self.counts_before
            .retain(|(_, then, _)| at.seconds_since(*then) <= updates::UNDO_S);
        if let Some(number) = last {
            self.counts_before.push((number, source.at, before));
        }
        match before {
            Some(old) if told && !afresh => {
                particles.recounted(source, old, now.counted, now);
                (None, true)
            }
            Some(old) if !told => {
                let by_m = now.counted.main_m - old.main_m;
                let moved = by_m != 0.0 || now.counted.kite_m != old.kite_m;
                if moved {
                    // What a plan asked for is the plan's trim.
                    self.trimmed_at = (!now.asked).then_some(source.at);
                    particles.corrected(source, by_m, now.doubt());
                }
                (None, moved)
            }
            _ => {
                self.trimmed_at = None;
                particles.out_afresh(source);
                (Some(source), true)
            }
        }
    }

    /// Propagates the particles to the present, at once when line out may have changed.
    fn propagate(&mut self, at: Millis, particles: &mut Particles, now: &Now<'_>, lines: bool) {
        let elapsed = self.last.map(|last| at.seconds_since(last.at));
        let least_s = if lines { 0.0 } else { LEAST_TICK_S };
        if elapsed.is_some_and(|s| (0.0..least_s).contains(&s)) {
            return;
        }
        let stretch = self.last.zip(elapsed).and_then(|(last, over_s)| {
            (0.0..=GAP_S).contains(&over_s).then(|| {
                let step = wrap_signed(now.heading_rad - last.heading_rad);
                Stretch {
                    over_s: over_s.max(LEAST_STRETCH_S),
                    heading_rad: (now.heading_rad - step, now.heading_rad),
                    speed_mps: (last.speed_mps, now.speed_mps),
                }
            })
        });
        particles.follow(now, stretch);
        self.last = Some(Tick {
            at,
            heading_rad: now.heading_rad,
            speed_mps: now.speed_mps,
        });
    }

    /// Notes what the crew has just said of the bait. Returns whether hands have trimmed it.
    fn trims(&mut self, deck: &DeckNow) -> bool {
        let moved_at = self.trimmed_at.take();
        let skips = deck.bait.filter(|seen| seen.state == BaitState::Skipping);
        let Some(skips) = skips else {
            return false;
        };
        self.anchored_at = Some(skips.at);
        moved_at.is_some_and(|moved| skips.at.seconds_since(moved) <= TRIMMED_WITHIN_S)
    }

    /// Weighs what was seen. Reports of one kind that come together count as one, the last.
    fn weigh(
        &mut self,
        at: Millis,
        deck: &DeckNow,
        events: &[CrewEvent],
        particles: &mut Particles,
        now: &Now<'_>,
        updated: &mut Updated,
    ) {
        let mut news = false;
        for kind in [Kind::Bait, Kind::Elevation, Kind::Bearing, Kind::Marker] {
            let is = |report: &&Report| self::kind(report) == Some(kind);
            let last = events.iter().filter_map(reported).rfind(is);
            let Some((report, seen)) = last.and_then(|report| Some((report, sighting(report)?)))
            else {
                continue;
            };
            let source = Source {
                number: Some(report.number),
                at: report.at,
            };
            let result = particles.weigh(source, seen, now);
            self.contradicted_at = None;
            if let Heard::Contradicts { expected } = result {
                self.contradicted_at = Some(at);
                particles.rescue(seen, expected, now);
            }
            if kind == Kind::Bait && self.trims(deck) && self.contradicted_at.is_none() {
                particles.weigh(source, Sighting::Trimmed, now);
            }
            updated.lessons += 1;
            news = true;
        }
        if news {
            particles.find_typical(now);
            updated.news = true;
        }
    }
}

/// Reports that replace each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Bait,
    Elevation,
    Bearing,
    Marker,
    Count,
    Moved,
}

/// `None` when it does not concern the filter.
fn kind(report: &Report) -> Option<Kind> {
    if report.input.counted().is_some() {
        return Some(Kind::Count);
    }
    match report.input {
        CrewInput::Bait(_) => Some(Kind::Bait),
        CrewInput::Elevation(_) => Some(Kind::Elevation),
        CrewInput::Bearing(_) => Some(Kind::Bearing),
        CrewInput::MarkerInWater(_) => Some(Kind::Marker),
        CrewInput::Moved { .. } | CrewInput::Plan { .. } => Some(Kind::Moved),
        _ => None,
    }
}

fn reported(event: &CrewEvent) -> Option<&Report> {
    match event {
        CrewEvent::Reported(report) => Some(report),
        CrewEvent::Retracted { .. } => None,
    }
}

/// What a report says of bait, kite or marker. Reports from before a restart have taught already.
fn sighting(report: &Report) -> Option<Sighting> {
    match &report.input {
        CrewInput::Bait(state) => Some(Sighting::Bait(*state)),
        CrewInput::Elevation(angle) => Some(Sighting::Elevation(in_radians(*angle))),
        CrewInput::Bearing(angle) => Some(Sighting::Bearing(in_radians(*angle))),
        CrewInput::MarkerInWater(yes) => Some(Sighting::Marker(*yes)),
        _ => None,
    }
}
