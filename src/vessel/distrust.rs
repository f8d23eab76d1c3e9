//! What is done about a suspicion: the source is set aside or marked, and told of in words.
//!
//! A source that is in the wrong is set aside: another one, or what stands in for it, is used where
//! there is one. Where it cannot be told which of two is wrong both stay in use with the lower
//! grade. Without any other a doubted value stays in use, graded so: a forecast with a wider spread
//! tells more than none.

use serde::Serialize;

use super::boat::Vessel;
use super::now::{Missing, Quantity, TrueWind};
use super::samples::WindSample;
use super::source::{Channel, Fitness, Source, Trust};
use crate::angles::wrap_positive;
use crate::doubt::{Fault, Instrument, Suspicion};
use crate::time::Millis;

/// Sources of one instrument that are suspect in one way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Doubted {
    /// What they measure.
    pub instrument: Instrument,
    /// In what way they are suspect.
    pub fault: Fault,
    /// Their names.
    pub sources: Vec<String>,
    /// Since when.
    pub since: Millis,
    /// What was seen, in words that follow the names.
    pub seen: String,
    /// What was expected, in words.
    pub expected: String,
    /// What to look at, in words.
    pub look: String,
    /// Whether they are set aside. Otherwise they or others are wrong, and all stay in use.
    pub set_aside: bool,
}

impl Vessel {
    /// Brings the trust in every source up to date with what is suspected.
    pub(super) fn distrust(&mut self) {
        let suspicions: Vec<(Instrument, u32, bool)> = self
            .doubts
            .suspicions()
            .into_iter()
            .map(|s| (s.instrument, s.source, s.at_fault))
            .collect();
        let of = |instrument: Instrument, source: u32| {
            suspicions
                .iter()
                .filter(|(of, id, _)| *of == instrument && *id == source)
                .map(|(_, _, at_fault)| match at_fault {
                    true => Trust::Aside,
                    false => Trust::Marked,
                })
                .max()
                .unwrap_or_default()
        };
        self.wind.trust(|s| of(Instrument::Wind, s.id));
        self.heading.trust(|s| of(Instrument::Heading, s.id));
        self.rate_of_turn
            .trust(|s| of(Instrument::RateOfTurn, s.id));
        self.log.trust(|s| of(Instrument::Log, s.id));
        self.speed_ground
            .trust(|s| of(Instrument::GroundSpeed, s.id));
        self.course.trust(|s| of(Instrument::Course, s.id));
        self.position.trust(|s| of(Instrument::Position, s.id));
        self.variation.trust(|s| of(Instrument::Variation, s.id));
    }

    /// What is suspected now, in words. What is missing is told as missing only.
    pub(super) fn doubted(&self, missing: &[Missing]) -> Vec<Doubted> {
        let mut found: Vec<Doubted> = Vec::new();
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

    fn name_of(&self, suspicion: &Suspicion) -> Option<String> {
        fn name<T: Fitness>(channel: &Channel<T>, id: u32) -> Option<String> {
            channel.sources().find(|s| s.id == id).map(Source::name)
        }
        let id = suspicion.source;
        match suspicion.instrument {
            Instrument::Wind => name(&self.wind, id),
            Instrument::Heading => name(&self.heading, id),
            Instrument::RateOfTurn => name(&self.rate_of_turn, id),
            Instrument::Log => name(&self.log, id),
            Instrument::GroundSpeed => name(&self.speed_ground, id),
            Instrument::Course => name(&self.course, id),
            Instrument::Position => name(&self.position, id),
            Instrument::Clock => name(&self.clock, id),
            Instrument::Variation => name(&self.variation, id),
        }
    }

    /// The true wind that blew before a wind sensor went wrong.
    pub(super) fn wind_before(&self, source: &Source<WindSample>) -> Option<TrueWind> {
        let suspicions = self.doubts.suspicions();
        let own = suspicions
            .iter()
            .find(|s| s.instrument == Instrument::Wind && s.source == source.id && s.at_fault)?;
        let (from_rad, speed_mps) = own.wind_before?;
        Some(TrueWind {
            from_rad: wrap_positive(from_rad),
            speed_mps,
        })
    }
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
