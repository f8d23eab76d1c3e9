//! The chain itself: decode -> vessel -> turn -> forecast -> advice.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::inputs::Inputs;
use super::settings::{EngineSettings, Revise};
use super::snapshot::{Mode, Snapshot};
use crate::advice::{AdviceBoard, Advisory};
use crate::calibrate::Calibrator;
use crate::cause::Cause;
use crate::decode::{CrewInput, Decoder, Observation, SessionMark, SettingChange};
use crate::feed::{CREW_FEED, Origin};
use crate::forecast::{Changes, Effort, Forecaster, Memory, NoForecast, Taught};
use crate::pass::{PassView, PassWatch};
use crate::strike::StrikeWatch;
use crate::time::Millis;
use crate::track::BaitTrack;
use crate::turn::TurnWatch;
use crate::vessel::{Deck, DeckNow, HeardMarks, Sender, Unusable, Vessel};

/// Most changes of settings that may wait for the last of their batch.
const MOST_CHANGES: usize = 100;

/// Least interval between pictures made because instruments reveal another turn: a course dial
/// turned slowly changes the turn with every sentence.
const NEWS_APART_S: f64 = 0.5;

/// Reports of the crew that come closer together than this are weighed together.
const ATTEND_APART_S: f64 = 0.01;

/// Input of the engine. Time never goes back from one event to the next.
#[derive(Debug, Clone, Copy)]
pub enum Event<'a> {
    /// A framed sentence with a correct checksum (or none, where the feed allows it).
    Line {
        /// When it arrived.
        at: Millis,
        /// Which feed brought it, with the sender where that is known ([`Origin::label`]).
        feed: &'a str,
        /// `$...`, with or without `*hh`.
        text: &'a str,
    },
    /// Something that the framer refused or skipped.
    Refused {
        /// Which feed brought it.
        feed: &'a str,
        /// Cause, as counted.
        cause: Cause,
    },
    /// A whole second has passed.
    Tick {
        /// The moment.
        at: Millis,
    },
}

/// How much of a picture there is time for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Means {
    /// A forecast with this effort.
    Forecast(Effort),
    /// No forecast: the computer is too slow to make one in time.
    TooSlow,
}

/// The output of a tick.
#[derive(Debug, Clone)]
pub struct Picture {
    /// Changed advisories, in the order of change.
    pub revisions: Vec<Advisory>,
    /// Everything at this moment.
    pub snapshot: Snapshot,
    /// What the settings were made of, when they were changed just now.
    pub revised: Option<Arc<dyn Revise>>,
    /// What was learnt about this kite in numbers.
    pub taught: Option<Taught>,
    /// Whether a pass was planned or carried on just now.
    pub pass_planned: bool,
}

/// What of a picture was worked out anew: that is what it costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Work {
    /// Number of futures of its forecast; `None` when it has no new one.
    pub futures: Option<usize>,
    /// Whether a pass was planned or carried on.
    pub pass: bool,
}

impl Picture {
    /// What of it was worked out anew.
    #[must_use]
    pub fn work(&self) -> Work {
        let forecast = self.snapshot.forecast.as_ref().ok();
        let new = forecast.filter(|forecast| forecast.made_at == self.snapshot.at);
        Work {
            futures: new.map(|forecast| forecast.futures),
            pass: self.pass_planned,
        }
    }
}

/// The whole chain as one machine.
#[derive(Debug)]
pub struct Engine {
    pub(super) settings: EngineSettings,
    mode: Mode,
    decoders: BTreeMap<String, Decoder>,
    pub(super) inputs: Inputs,
    pub(super) vessel: Vessel,
    heard_marks: HeardMarks,
    calibrator: Calibrator,
    track: BaitTrack,
    pub(super) deck: Deck,
    pub(super) turn: TurnWatch,
    pub(super) strike: StrikeWatch,
    pass: PassWatch,
    pub(super) forecaster: Forecaster,
    pub(super) board: AdviceBoard,
    /// Advisories changed by the crew's last input, published with the next picture.
    pub(super) changed: Vec<Advisory>,
    /// When instruments last revealed another turn.
    news_at: Option<Millis>,
    /// When a report of the crew was last weighed by itself.
    attended_at: Option<Millis>,
    /// Changes of settings whose last has not come yet.
    pub(super) changes: Vec<SettingChange>,
    /// What the settings were made of, when the next picture is to publish it.
    pub(super) revised: Option<Arc<dyn Revise>>,
}

impl Engine {
    /// A fresh engine that has heard nothing.
    #[must_use]
    pub fn new(settings: EngineSettings, mode: Mode) -> Self {
        let mut inputs = Inputs::default();
        inputs.expect(settings.feeds.iter().cloned());
        Self {
            mode,
            decoders: BTreeMap::new(),
            inputs,
            vessel: Vessel::new(settings.vessel.clone()),
            heard_marks: HeardMarks::default(),
            calibrator: Calibrator::default(),
            track: BaitTrack::default(),
            deck: Deck::new(settings.lines_out),
            turn: TurnWatch::new(settings.turn),
            strike: StrikeWatch::new(Arc::clone(&settings.strike)),
            pass: PassWatch::default(),
            forecaster: settings.forecaster.clone(),
            board: AdviceBoard::new(settings.advice),
            news_at: None,
            attended_at: None,
            changed: Vec::new(),
            changes: Vec::new(),
            revised: None,
            settings,
        }
    }

    /// Processes one event at full effort. A tick always returns a picture; a sentence does when
    /// [`hear`](Self::hear) asks for one.
    pub fn take(&mut self, event: Event<'_>) -> Option<Picture> {
        let means = Means::Forecast(Effort::FULL);
        match event {
            Event::Line { at, feed, text } => {
                self.hear(at, feed, text).then(|| self.picture(at, means))
            }
            Event::Refused { feed, cause } => {
                self.refused(feed, cause);
                None
            }
            Event::Tick { at } => Some(self.picture(at, means)),
        }
    }

    /// Processes a sentence; cheap. True when a picture should be made at once: after crew input,
    /// so that it shows its effect, and after news of another turn, because hands need every second
    /// before it.
    pub fn hear(&mut self, at: Millis, feed: &str, text: &str) -> bool {
        let crew_spoke = self.line(at, feed, text);
        if crew_spoke {
            self.strike.attend(&self.vessel.now(at), &self.deck.now(at));
            self.attend(at);
        }
        crew_spoke || self.turn_news(at)
    }

    /// Weighs what the crew has just reported: the next picture may be made of several reports, and
    /// each is to count. In a flood those that come together count as one.
    fn attend(&mut self, at: Millis) {
        let rested = self
            .attended_at
            .is_none_or(|last| at.seconds_since(last) >= ATTEND_APART_S);
        if rested {
            self.attended_at = Some(at);
            let vessel = self.vessel.now(at);
            let deck = self.deck_now(at);
            let outlook = self.turn.outlook(at, &vessel, &deck);
            self.forecaster.attend(at, &vessel, &deck, &outlook);
        }
    }

    /// Counts something that the framer refused or skipped.
    pub fn refused(&mut self, label: &str, cause: Cause) {
        let (feed, _) = Origin::split(label);
        self.inputs.refused(feed, cause);
    }

    /// The settings as they are now.
    #[must_use]
    pub fn settings(&self) -> &EngineSettings {
        &self.settings
    }

    /// Goes on as after a restart of the program: nothing has been heard since, and time may have
    /// gone back. Settings, what was learnt and the counts of the inputs stay; `anew` is what the
    /// crew's words from before amount to.
    pub fn restart(&mut self, at: Millis, anew: &[CrewInput]) {
        let settings = self.settings.clone();
        let mut inputs = std::mem::take(&mut self.inputs);
        inputs.restart();
        *self = Self {
            inputs,
            forecaster: settings.forecaster.clone().succeeding(&self.forecaster),
            revised: self.revised.take(),
            ..Self::new(settings, self.mode)
        };
        for input in anew {
            self.crew(at, CREW_FEED, 0, input);
        }
    }

    /// Statistics of all inputs.
    #[must_use]
    pub fn inputs(&self) -> &Inputs {
        &self.inputs
    }

    /// Counts changes of the memory: when the value differs from before, there is something to
    /// save.
    #[must_use]
    pub fn changes(&self) -> Changes {
        self.forecaster.changes()
    }

    /// Everything learnt about this kite and others.
    #[must_use]
    pub fn memory(&self) -> Memory {
        self.forecaster.memory()
    }

    /// Processes a sentence; true when it was crew input.
    fn line(&mut self, at: Millis, label: &str, text: &str) -> bool {
        let (feed, origin) = Origin::split(label);
        let is_crew = self.settings.is_crew(feed);
        let feed = self.inputs.known_as(feed);
        let feed = feed.as_ref();
        let decoder = self.decoders.entry(feed.to_owned()).or_default();
        let decoded = match decoder.decode(text) {
            Ok(decoded) => decoded,
            Err(reject) => {
                self.inputs.sentence(feed, kind_of(text));
                self.inputs.refused(feed, reject.cause());
                self.vessel
                    .unusable(at, feed, address_of(text), Unusable::Refused);
                return false;
            }
        };
        self.inputs.sentence(feed, decoded.kind);
        if decoded.is_crew() && !is_crew {
            self.inputs.refused(feed, Cause::NotCrew);
            return false;
        }
        self.inputs
            .understood(at, feed, decoded.kind, decoded.is_void());
        if decoded.is_void() {
            self.vessel
                .unusable(at, feed, address_of(text), Unusable::Void);
        }
        let mut crew_spoke = false;
        for observation in &decoded.observations {
            if let Observation::Crew { seq, input } = observation {
                if let CrewInput::Setting { change, more } = input {
                    self.changes.push(change.clone());
                    if *more == 0 || self.changes.len() >= MOST_CHANGES {
                        crew_spoke = true;
                        self.revise(feed);
                    }
                    continue;
                }
                // A stop also ends the recording: it gets no picture, so that live and replay end
                // alike.
                crew_spoke = *input != CrewInput::Session(SessionMark::Stop);
                self.crew(at, feed, *seq, input);
            } else {
                let sender = Sender {
                    feed,
                    origin,
                    talker: decoded.talker.as_str(),
                    kind: decoded.kind,
                };
                self.vessel.observe(at, sender, observation);
                self.turn.observe(at, observation);
                if HeardMarks::is_of_mark(observation) {
                    let here = self.vessel.here(at);
                    self.heard_marks.observe(at, here, observation);
                }
            }
        }
        crew_spoke
    }

    /// What the crew has told; a turn that an accepted pass orders counts as announced where the crew
    /// has announced none itself.
    fn deck_now(&self, at: Millis) -> DeckNow {
        let mut deck = self.deck.now(at);
        if deck.intended_turn.is_none() {
            deck.intended_turn = self.pass.announces(&deck);
        }
        deck
    }

    /// Whether instruments have revealed another turn that deserves a picture now.
    fn turn_news(&mut self, at: Millis) -> bool {
        let rested = self
            .news_at
            .is_none_or(|last| at.seconds_since(last) >= NEWS_APART_S);
        let answer = rested && self.turn.has_news();
        if answer {
            self.news_at = Some(at);
        }
        answer
    }

    /// Makes a picture of everything heard; expensive when it needs a forecast.
    pub fn picture(&mut self, at: Millis, means: Means) -> Picture {
        let _span = tracing::trace_span!("picture").entered();
        let vessel = self.vessel.now(at);
        let deck = self.deck_now(at);
        self.calibrator.look(&self.vessel.measured(at));
        let outlook = self.turn.outlook(at, &vessel, &deck);
        let strike = self.strike.look(&vessel, &deck);
        let forecast = match means {
            Means::Forecast(effort) => self
                .forecaster
                .forecast(at, &vessel, &deck, &outlook, effort),
            Means::TooSlow => Err(NoForecast::too_slow()),
        };
        let mut revisions = std::mem::take(&mut self.changed);
        revisions.extend(self.board.update(at, &vessel, &deck, forecast.as_deref()));
        let foreseen = forecast.as_deref().ok();
        self.track.note(at, &vessel, foreseen);
        let marks = deck.marks_with(self.heard_marks.now(at));
        let pass = self.pass.look(&PassView {
            at,
            vessel: &vessel,
            deck: &deck,
            marks: &marks,
            outlook: &outlook,
            forecast: forecast.as_deref(),
            forecaster: &self.forecaster,
            current_mps: (self.track.current_mps())
                .map_or([0.0; 2], |current| [current.east_m, current.north_m]),
            may_plan: matches!(means, Means::Forecast(_)),
            settings: &self.settings.pass,
        });
        let snapshot = Snapshot {
            track: self.track.now(at, &vessel, foreseen),
            at,
            mode: self.mode,
            clock_speed: 1.0,
            lag_s: 0.0,
            silenced_until: self.board.quiet_until(at),
            advisories: self.board.living(),
            feeds: self.inputs.now(at),
            marks,
            calibration: self.calibrator.now(&deck.corrections),
            pass,
            vessel,
            deck,
            strike,
            forecast,
            learnt: self.forecaster.learnt_now(),
        };
        Picture {
            revisions,
            snapshot,
            revised: self.revised.take(),
            taught: self.forecaster.taught(),
            pass_planned: self.pass.planned(at),
        }
    }
}

/// Talker and kind as they stand in a sentence.
fn address_of(text: &str) -> &str {
    let address = text.trim_start_matches(['$', '!']);
    address.split([',', '*']).next().unwrap_or_default()
}

/// Kind of a sentence that could not be decoded, from its address: the last three letters, or the
/// whole of a proprietary address.
fn kind_of(text: &str) -> &str {
    let address = address_of(text);
    if address.starts_with('P') {
        address
    } else {
        address
            .len()
            .checked_sub(3)
            .and_then(|start| address.get(start..))
            .unwrap_or(address)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kind_of_an_undecoded_sentence() {
        assert_eq!(kind_of("$IIVLW,1,N*00"), "VLW");
        assert_eq!(kind_of("$PGRMZ,1,f"), "PGRMZ");
        assert_eq!(kind_of("$"), "");
        assert_eq!(kind_of("$AB*12"), "AB");
    }
}
