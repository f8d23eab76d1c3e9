//! What is done about a suspicion: the source is set aside or marked, and told of in words.
//!
//! A source that is in the wrong is set aside: another one, or what stands in for it, is used where
//! there is one. Where it cannot be told which of two is wrong both stay in use with the lower
//! grade. Without any other a doubted value stays in use, graded so: a forecast with a wider spread
//! tells more than none. What the crew ignores is never used, and not spoken of.

use super::boat::Vessel;
use super::now::{Doubted, Missing, Quantity, SourceNow, TrueWind};
use super::samples::{WindFault, WindSample};
use super::source::{Channel, Fitness, Source, Trust};
use crate::angles::wrap_positive;
use crate::doubt::{Fault, Instrument, Suspicion};
use crate::time::Millis;

/// A source silent for longer is not shown.
const SHOWN_S: f64 = 60.0;

impl Vessel {
    /// Brings the trust in every source up to date with what is suspected.
    pub(super) fn distrust(&mut self) {
        let suspicions: Vec<Suspect> = self
            .doubts
            .suspicions()
            .into_iter()
            .map(|s| {
                let trust = if s.at_fault {
                    Trust::Aside
                } else {
                    Trust::Marked
                };
                (s.instrument, s.source, trust)
            })
            .collect();
        let ignored = &self.ignored;
        settle(&mut self.wind, Instrument::Wind, &suspicions, ignored);
        settle(&mut self.heading, Instrument::Heading, &suspicions, ignored);
        settle(
            &mut self.rate_of_turn,
            Instrument::RateOfTurn,
            &suspicions,
            ignored,
        );
        settle(&mut self.log, Instrument::Log, &suspicions, ignored);
        settle(
            &mut self.speed_ground,
            Instrument::GroundSpeed,
            &suspicions,
            ignored,
        );
        settle(&mut self.course, Instrument::Course, &suspicions, ignored);
        settle(
            &mut self.position,
            Instrument::Position,
            &suspicions,
            ignored,
        );
        settle(
            &mut self.variation,
            Instrument::Variation,
            &suspicions,
            ignored,
        );
        // What an instrument has worked out is tested by what it measures.
        settle(&mut self.worked_out_wind, Instrument::Wind, &[], ignored);
    }

    /// Uses these sources no more, and all others again.
    pub fn ignore(&mut self, names: impl Iterator<Item = String>) {
        let names: Vec<String> = names.collect();
        if names != self.ignored {
            self.ignored = names;
            self.distrust();
        }
    }

    /// Every source that is heard, or that the crew ignores, with what is suspected of it.
    pub(super) fn sources(&self, at: Millis) -> Vec<SourceNow> {
        fn of<T: Fitness>(
            channel: &Channel<T>,
            at: Millis,
            instrument: Instrument,
            ignored: &[String],
        ) -> impl Iterator<Item = SourceNow> {
            let used = channel.pick(at).map(|source| source.id);
            channel.sources().map(move |source| SourceNow {
                instrument,
                id: source.id,
                // What is ignored is shown under the name by which that can be undone.
                name: source
                    .listed_as(ignored)
                    .map_or_else(|| source.name(), String::clone),
                at: source.at,
                used: used == Some(source.id),
                ignored: source.trust == Trust::Ignored,
                seen: None,
                habit: None,
            })
        }
        let names = &self.ignored;
        let mut all: Vec<SourceNow> = of(&self.wind, at, Instrument::Wind, names)
            .chain(of(&self.heading, at, Instrument::Heading, names))
            .chain(of(&self.rate_of_turn, at, Instrument::RateOfTurn, names))
            .chain(of(&self.log, at, Instrument::Log, names))
            .chain(of(&self.speed_ground, at, Instrument::GroundSpeed, names))
            .chain(of(&self.course, at, Instrument::Course, names))
            .chain(of(&self.position, at, Instrument::Position, names))
            .chain(of(&self.variation, at, Instrument::Variation, names))
            .filter(|source| source.ignored || at.seconds_since(source.at) <= SHOWN_S)
            .collect();
        for suspicion in self.doubts.suspicions() {
            let own = |s: &&mut SourceNow| {
                s.instrument == suspicion.instrument && s.id == suspicion.source
            };
            if let Some(source) = all.iter_mut().find(own) {
                source.seen = Some(suspicion.seen.clone());
            }
        }
        // What is suspect is told as that.
        for source in all.iter_mut().filter(|source| source.seen.is_none()) {
            let changed = self.doubts.habit(source.instrument, source.id);
            source.habit = changed.map(|changed| (changed.words(), changed.since));
        }
        all
    }

    /// What the crew ignores is not called silent.
    pub(super) fn name_ignored(&self, at: Millis, missing: &mut [Missing]) {
        if self.ignored.is_empty() || missing.is_empty() {
            return;
        }
        let sources = self.sources(at);
        for missing in missing {
            let names: Vec<&str> = sources
                .iter()
                .filter(|s| s.ignored && quantity_of(s.instrument) == Some(missing.quantity))
                .map(|s| s.name.as_str())
                .collect();
            if !names.is_empty() {
                let ignored = format!("; ignored by the crew: {}", names.join(" and "));
                missing.why.push_str(&ignored);
            }
        }
    }

    /// What is suspected now, in words. What is missing is told as missing only.
    pub(super) fn doubted(&self, at: Millis, missing: &[Missing]) -> Vec<Doubted> {
        let mut found: Vec<Doubted> = Vec::new();
        if missing.iter().any(|m| m.quantity == Quantity::Wind) {
            found.extend(self.still_masthead(at));
        }
        for suspicion in self.doubts.suspicions() {
            let is_missing = |quantity| missing.iter().any(|m| m.quantity == quantity);
            if quantity_of(suspicion.instrument).is_some_and(is_missing) {
                continue;
            }
            let Some(name) = self.name_of(suspicion) else {
                continue;
            };
            let alike = |d: &&mut Doubted| {
                d.instrument == suspicion.instrument && d.fault == suspicion.fault
            };
            if let Some(told) = found.iter_mut().find(alike) {
                told.since = told.since.min(suspicion.since);
                told.set_aside |= suspicion.at_fault;
                if !told.sources.contains(&name) {
                    told.sources.push(name);
                }
                continue;
            }
            found.push(Doubted {
                instrument: suspicion.instrument,
                fault: suspicion.fault,
                sources: vec![name],
                since: suspicion.since,
                seen: suspicion.seen.clone(),
                expected: suspicion.expected.to_owned(),
                look: suspicion.look.to_owned(),
                set_aside: suspicion.at_fault,
            });
        }
        found
    }

    /// A masthead unit that repeats its last words, which is why there is no wind.
    fn still_masthead(&self, at: Millis) -> Option<Doubted> {
        let (source, fault) = self.faulty_wind(at)?;
        if fault != WindFault::Frozen || source.trust == Trust::Ignored {
            return None;
        }
        Some(Doubted {
            instrument: Instrument::Wind,
            fault: Fault::MastheadStill,
            sources: vec![source.name()],
            since: source.value.useful_at().unwrap_or(source.at),
            seen: String::from("repeats one angle and one speed while the boat moves"),
            expected: String::from("vane and cups never both to stand quite still"),
            look: String::from(
                "the masthead unit speaks but does not measure: look up, then switch it off and on; \
                 steer and trim by eye",
            ),
            set_aside: true,
        })
    }

    /// The name of a suspect; `None` of one that the crew ignores.
    fn name_of(&self, suspicion: &Suspicion) -> Option<String> {
        fn name<T: Fitness>(channel: &Channel<T>, id: u32, ignored: &[String]) -> Option<String> {
            let own = channel.sources().find(|s| s.id == id)?;
            own.listed_as(ignored).is_none().then(|| own.name())
        }
        let (id, ignored) = (suspicion.source, &self.ignored);
        match suspicion.instrument {
            Instrument::Wind => name(&self.wind, id, ignored),
            Instrument::Heading => name(&self.heading, id, ignored),
            Instrument::RateOfTurn => name(&self.rate_of_turn, id, ignored),
            Instrument::Log => name(&self.log, id, ignored),
            Instrument::GroundSpeed => name(&self.speed_ground, id, ignored),
            Instrument::Course => name(&self.course, id, ignored),
            Instrument::Position => name(&self.position, id, ignored),
            Instrument::Clock => name(&self.clock, id, ignored),
            Instrument::Variation => name(&self.variation, id, ignored),
        }
    }

    /// The true wind that blew before a wind sensor went wrong.
    pub(super) fn wind_before(&self, source: &Source<WindSample>) -> Option<TrueWind> {
        let suspicions = self.doubts.suspicions();
        let same = |id: u32| {
            let mut sources = self.wind.sources();
            sources.any(|other| other.id == id && other.sender() == source.sender())
        };
        let own = suspicions
            .iter()
            .find(|s| s.instrument == Instrument::Wind && s.at_fault && same(s.source))?;
        let (from_rad, speed_mps) = own.wind_before?;
        Some(TrueWind {
            from_rad: wrap_positive(from_rad),
            speed_mps,
        })
    }
}

/// What is measured, by which source, and how far that is trusted.
type Suspect = (Instrument, u32, Trust);

/// Says how far each source is trusted. Sources of one sender are one instrument in several
/// sentences: what is suspected of one holds for all.
fn settle<T: Fitness>(
    channel: &mut Channel<T>,
    instrument: Instrument,
    suspicions: &[Suspect],
    ignored: &[String],
) {
    let of = |source: &Source<T>| {
        let own = suspicions
            .iter()
            .filter(|(of, id, _)| *of == instrument && *id == source.id);
        own.map(|(.., trust)| *trust).max()
    };
    let senders: Vec<(_, Trust)> = channel
        .sources()
        .filter_map(|source| Some((source.sender(), of(source)?)))
        .collect();
    channel.trust(|source| {
        if source.listed_as(ignored).is_some() {
            return Trust::Ignored;
        }
        let own = source.sender();
        let worst = senders.iter().filter(|(sender, _)| *sender == own);
        worst.map(|(_, trust)| *trust).max().unwrap_or_default()
    });
}

/// The quantity that is missing when all sources of this instrument are.
fn quantity_of(instrument: Instrument) -> Option<Quantity> {
    match instrument {
        Instrument::Wind => Some(Quantity::Wind),
        Instrument::Heading => Some(Quantity::Heading),
        Instrument::Log | Instrument::GroundSpeed => Some(Quantity::Speed),
        Instrument::RateOfTurn
        | Instrument::Course
        | Instrument::Position
        | Instrument::Clock
        | Instrument::Variation => None,
    }
}
