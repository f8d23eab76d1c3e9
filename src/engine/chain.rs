//! The chain itself: decode -> vessel -> turn -> forecast -> advice.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::answers::{AGAIN_S, Answered, Answers, moved_by};
use super::inputs::Inputs;
use super::revise::Revise;
use super::snapshot::{Mode, Snapshot};
use crate::advice::{AdviceBoard, AdviceSettings, Advisory, first_asked};
use crate::cause::Cause;
use crate::decode::{
    Asked, CrewInput, Decoder, GeoPosition, Observation, PlanAnswer, SessionMark, SettingChange,
};
use crate::feed::CREW_FEED;
use crate::forecast::{Changes, Effort, Forecaster, Memory, NoForecast};
use crate::time::Millis;
use crate::turn::{TurnSettings, TurnWatch};
use crate::units::degrees;
use crate::vessel::{Deck, LinesOut, Unusable, Vessel, VesselSettings};

/// Most changes of settings that may wait for the last of their batch.
const MOST_CHANGES: usize = 100;

/// Least interval between pictures made because instruments reveal another turn: a course dial
/// turned slowly changes the turn with every sentence.
const NEWS_APART_S: f64 = 0.5;

/// Reports of the crew that come closer together than this are weighed together.
const ATTEND_APART_S: f64 = 0.01;

/// Configuration of the chain.
#[derive(Debug, Clone)]
pub struct EngineSettings {
    /// Names of the inputs, so that one that never sends is shown too.
    pub feeds: Vec<String>,
    /// Names of the inputs that may speak for the crew, besides [`CREW_FEED`].
    pub crew_feeds: Vec<String>,
    /// Which source to believe.
    pub vessel: VesselSettings,
    /// Settings of the turn room.
    pub turn: TurnSettings,
    /// Line out at the start, as the settings give it.
    pub lines_out: LinesOut,
    /// The forecaster with the rig, in its initial state.
    pub forecaster: Forecaster,
    /// Settings of the advice room.
    pub advice: AdviceSettings,
    /// What these were made of, if they can be changed while the engine runs.
    pub source: Option<Arc<dyn Revise>>,
}

impl EngineSettings {
    /// Whether this feed may speak for the crew. Anybody on a network can send a crew sentence.
    #[must_use]
    pub fn is_crew(&self, feed: &str) -> bool {
        feed == CREW_FEED || self.crew_feeds.iter().any(|name| name == feed)
    }
}

/// Input of the engine. Time never goes back from one event to the next.
#[derive(Debug, Clone, Copy)]
pub enum Event<'a> {
    /// A framed sentence with a correct checksum (or none, where the feed allows it).
    Line {
        /// When it arrived.
        at: Millis,
        /// Which feed brought it.
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
}

impl Picture {
    /// Number of futures of its forecast; `None` when it has no new one.
    #[must_use]
    pub fn new_futures(&self) -> Option<usize> {
        let forecast = self.snapshot.forecast.as_ref().ok()?;
        (forecast.made_at == self.snapshot.at).then_some(forecast.members)
    }
}

/// The machine.
#[derive(Debug)]
pub struct Engine {
    settings: EngineSettings,
    mode: Mode,
    decoders: BTreeMap<String, Decoder>,
    inputs: Inputs,
    vessel: Vessel,
    deck: Deck,
    turn: TurnWatch,
    forecaster: Forecaster,
    board: AdviceBoard,
    /// The crew's answers to their requests.
    answers: Answers,
    /// Advisories changed by the crew's last input, published with the next picture.
    changed: Vec<Advisory>,
    /// When instruments last revealed another turn.
    news_at: Option<Millis>,
    /// When a report of the crew was last weighed by itself.
    attended_at: Option<Millis>,
    /// Changes of settings whose last has not come yet.
    changes: Vec<SettingChange>,
    /// What the settings were made of, when the next picture is to publish it.
    revised: Option<Arc<dyn Revise>>,
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
            deck: Deck::new(settings.lines_out),
            turn: TurnWatch::new(settings.turn),
            forecaster: settings.forecaster.clone(),
            board: AdviceBoard::new(settings.advice),
            news_at: None,
            attended_at: None,
            answers: Answers::default(),
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
            let deck = self.deck.now(at);
            let outlook = self.turn.outlook(at, &vessel, &deck);
            self.forecaster.attend(at, &vessel, &deck, &outlook);
        }
    }

    /// Counts something that the framer refused or skipped.
    pub fn refused(&mut self, feed: &str, cause: Cause) {
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
    fn line(&mut self, at: Millis, feed: &str, text: &str) -> bool {
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
                self.vessel
                    .observe(at, feed, decoded.talker.as_str(), decoded.kind, observation);
                self.turn.observe(at, observation);
            }
        }
        crew_spoke
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

    fn crew(&mut self, at: Millis, feed: &str, sequence: u32, input: &CrewInput) {
        match input {
            CrewInput::Acknowledge { advisory, .. } => {
                self.changed.extend(self.board.acknowledge(at, advisory));
            }
            CrewInput::Silence { minutes } => {
                self.changed.extend(self.board.silence(at, *minutes));
            }
            CrewInput::Session(SessionMark::Start) => {
                let settings = &self.settings;
                // Number 0 of this feed is the daemon's: what was marked before, it says anew.
                self.deck = if feed == CREW_FEED && sequence == 0 {
                    Deck::new(settings.lines_out)
                } else {
                    self.deck.next_session(at, settings.lines_out)
                };
                self.turn = self.turn.next_session(settings.turn);
                self.forecaster = settings.forecaster.clone().succeeding(&self.forecaster);
                self.answers = Answers::default();
            }
            CrewInput::Forget => self.forecaster.forget(),
            CrewInput::Plan { answer, asked } => {
                self.answer(at, feed, sequence, *answer, asked.clone());
            }
            CrewInput::Before {
                age_s,
                counts,
                input: said,
            } => match said.as_ref() {
                CrewInput::Acknowledge { advisory, priority } if *counts => {
                    self.board
                        .acknowledged_before(at, *age_s, advisory, *priority);
                }
                CrewInput::Silence { minutes } if *counts => {
                    let left_min = minutes - age_s / 60.0;
                    if left_min > 0.0 {
                        self.changed.extend(self.board.silence(at, left_min));
                    }
                }
                _ => {
                    self.deck.observe(at, sequence, input);
                    self.forecaster.observe(at, input);
                }
            },
            CrewInput::Mark {
                name,
                position: None,
            } => {
                let here = self.vessel.now(at).position.map(|here| GeoPosition {
                    latitude: degrees(here.value.latitude_deg),
                    longitude: degrees(here.value.longitude_deg),
                });
                let mark = CrewInput::Mark {
                    name: name.clone(),
                    position: here,
                };
                self.deck.observe(at, sequence, &mark);
            }
            _ => {
                if let CrewInput::Undo { of } = input {
                    self.answers.take_back(at, *of);
                }
                self.deck.observe(at, sequence, input);
                self.forecaster.observe(at, input);
            }
        }
    }

    /// Moves the line that an answer says was moved. An answer that names no request answers the
    /// one asked first now; an answer that names one is counted once.
    fn answer(
        &mut self,
        at: Millis,
        feed: &str,
        sequence: u32,
        answer: PlanAnswer,
        asked: Option<Asked>,
    ) {
        let named = asked.is_some();
        let Some(asked) = asked.or_else(|| first_asked(&self.board.living())) else {
            return;
        };
        if named {
            if self.answers.earlier(at, &asked, AGAIN_S).is_some() {
                self.inputs.refused(feed, Cause::Answered);
                return;
            }
            self.board.answered(asked.line);
            self.answers.note(Answered {
                at,
                sequence,
                answer,
                asked: asked.clone(),
            });
        }
        if let Some(moved) = moved_by(answer, &asked) {
            self.deck.observe(at, sequence, &moved);
        }
    }

    /// Applies the collected changes of settings. What was learnt about another kite is kept for
    /// it; crew reports, wind record and advisories stay. Lines out at the start apply from the
    /// next start of fishing.
    fn revise(&mut self, feed: &str) {
        let changes = std::mem::take(&mut self.changes);
        let revised = self
            .settings
            .source
            .as_ref()
            .and_then(|source| source.revise(&changes));
        match revised {
            Some(settings) => {
                self.forecaster = settings.forecaster.clone().replacing(&self.forecaster);
                self.revised.clone_from(&settings.source);
                self.settings = settings;
            }
            None => self.inputs.refused(feed, Cause::Setting),
        }
    }

    /// Makes a picture of everything heard; expensive when it needs a forecast.
    pub fn picture(&mut self, at: Millis, means: Means) -> Picture {
        let vessel = self.vessel.now(at);
        let deck = self.deck.now(at);
        let outlook = self.turn.outlook(at, &vessel, &deck);
        let forecast = match means {
            Means::Forecast(effort) => self
                .forecaster
                .forecast(at, &vessel, &deck, &outlook, effort),
            Means::TooSlow => Err(NoForecast::too_slow()),
        };
        let mut revisions = std::mem::take(&mut self.changed);
        revisions.extend(self.board.update(at, &vessel, &deck, forecast.as_deref()));
        let snapshot = Snapshot {
            at,
            mode: self.mode,
            clock_speed: 1.0,
            lag_s: 0.0,
            silenced_until: self.board.quiet_until(at),
            advisories: self.board.living(),
            answers: self.answers.clone(),
            feeds: self.inputs.now(at),
            vessel,
            deck,
            forecast,
            learnt: self.forecaster.learnt_now(),
        };
        Picture {
            revisions,
            snapshot,
            revised: self.revised.take(),
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
