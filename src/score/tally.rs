//! Collects the output of a replay and scores it at the end.
//! In: revisions, forecasts and crew inputs in order of time, then the truth. Out: [`Marks`].

use std::collections::BTreeMap;

use super::details::Detail;
use super::judge::{self, Made, Spell, Told};
use super::labels::{Labels, Rules, is_scored};
use super::marks::Marks;
use super::revision::Revision;
use super::taps::{self, Said};
use super::truth::Truth;
use crate::advice::{Advisory, Outcome};
use crate::decode::{CrewInput, Decoder, Observation, Priority};
use crate::forecast::{Chance, Forecast};
use crate::time::Millis;

/// The output of one replay. Feed revisions, forecasts and crew inputs, each kind in order of time;
/// then ask for the marks.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    spells: Vec<Spell>,
    /// Index into `spells` of the last one of each advisory.
    latest: BTreeMap<String, usize>,
    made: Vec<Made>,
    said: Vec<(Millis, u32, CrewInput)>,
    last: Option<Millis>,
}

impl Tally {
    /// An empty one.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// One revision of an advisory, as published.
    pub fn revision(&mut self, advisory: &Advisory) {
        self.revised(&Revision::of(advisory));
    }

    /// One revision of an advisory. Kinds that are not scored are ignored.
    pub fn revised(&mut self, advisory: &Revision) {
        self.note(advisory.at);
        let Some(trouble) = advisory
            .kind
            .trouble()
            .filter(|trouble| is_scored(*trouble))
        else {
            return;
        };
        let index = self.latest.get(&advisory.id).copied();
        let open = index
            .and_then(|i| self.spells.get_mut(i))
            .filter(|spell| spell.over.is_none());
        // From the moment that nobody watches it nothing is foretold any more.
        let pressing = advisory.priority >= Priority::Warning;
        let outcome = advisory
            .outcome
            .or(advisory.unwatched_since.map(|_| Outcome::Lost));
        match (open, outcome) {
            (Some(spell), Some(outcome)) => spell.over = Some((advisory.at, outcome)),
            (Some(spell), None) => {
                spell.onsets.push((advisory.at, advisory.onset_at));
                spell.pressing.push((advisory.at, pressing));
            }
            (None, None) => {
                self.latest.insert(advisory.id.clone(), self.spells.len());
                self.spells.push(Spell {
                    trouble,
                    raised: if index.is_none() {
                        advisory.raised_at
                    } else {
                        advisory.at
                    },
                    over: None,
                    onsets: vec![(advisory.at, advisory.onset_at)],
                    pressing: vec![(advisory.at, pressing)],
                });
            }
            // It had ended before; its removal from the list, or that it is unwatched, is no news.
            (None, Some(_)) => {}
        }
    }

    /// One forecast. The same one shown again counts once.
    pub fn forecast(&mut self, forecast: &Forecast) {
        self.made(forecast.made_at, forecast.horizon_s, &forecast.chances);
    }

    /// The chances of one forecast. The same one told again counts once.
    pub fn made(&mut self, made_at: Millis, horizon_s: f64, chances: &[Chance]) {
        self.note(made_at);
        if self.made.last().is_some_and(|m| m.at >= made_at) {
            return;
        }
        self.made.push(Made {
            at: made_at,
            horizon_s,
            chances: chances
                .iter()
                .filter(|chance| is_scored(chance.kind))
                .copied()
                .collect(),
        });
    }

    /// One sentence of the recording; only the crew's are read.
    pub fn sentence(&mut self, at: Millis, text: &str) {
        if !text.starts_with("$PSKWT,") {
            return;
        }
        // What the decoder refuses, the replay refuses and counts too.
        let Ok(decoded) = Decoder::new().decode(text) else {
            return;
        };
        for observation in &decoded.observations {
            if let Observation::Crew { seq, input } = observation {
                self.crew(at, *seq, input);
            }
        }
    }

    /// One input of the crew, with the number of its sentence: kite line moved and, for days
    /// without a truth, everything else.
    pub fn crew(&mut self, at: Millis, seq: u32, input: &CrewInput) {
        self.note(at);
        match input {
            CrewInput::Undo { of } => self.said.retain(|(_, seq, _)| seq != of),
            _ => self.said.push((at, seq, input.clone())),
        }
    }

    fn note(&mut self, at: Millis) {
        self.last = self.last.max(Some(at));
    }

    /// Marks of this recording, whose first line came at `first`. Without a truth the crew's own
    /// taps label it.
    #[must_use]
    pub fn end(self, first: Millis, truth: Option<&Truth>, rules: &Rules) -> Marks {
        self.end_with(first, truth, rules, |_| {})
    }

    /// The same, with a callback for every scored event, advisory and chance.
    pub fn end_with(
        self,
        first: Millis,
        truth: Option<&Truth>,
        rules: &Rules,
        mut tell: impl FnMut(Detail),
    ) -> Marks {
        let said: Vec<Said> = self
            .said
            .iter()
            .map(|(at, _, input)| (at.seconds_since(first), input.clone()))
            .collect();
        let last_s = self.last.map_or(0.0, |last| last.seconds_since(first));
        let labels = match truth {
            Some(truth) => Labels::from_truth(truth, &taps::moves(&said, rules), rules),
            None => taps::labels(&said, last_s, rules),
        };
        let mut marks = Marks::of_recording(&labels);
        let told: Vec<Told> = self.spells.iter().map(|s| Told::new(s, first)).collect();
        judge::events(&told, &labels, &mut marks, &mut tell);
        if truth.is_some() {
            marks.burden(judge::burden(&told, &labels, rules));
        }
        judge::advisories(&told, &said, &labels, rules, &mut marks, &mut tell);
        for made in &self.made {
            judge::chances(made, first, &labels, rules, &mut marks, &mut tell);
        }
        marks
    }
}
