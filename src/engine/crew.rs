//! What the crew's words do to the chain.

use std::sync::Arc;

use super::chain::Engine;
use crate::advice::first_asked;
use crate::cause::Cause;
use crate::decode::{Asked, CrewInput, GeoPosition, MarkSaid, PlanAnswer, SessionMark};
use crate::feed::CREW_FEED;
use crate::time::Millis;
use crate::vessel::{CrewEvent, Deck, moved_by};

impl Engine {
    /// Takes in one input of the crew.
    pub(super) fn crew(&mut self, at: Millis, feed: &str, sequence: u32, input: &CrewInput) {
        match input {
            CrewInput::Acknowledge { advisory, .. } => {
                self.changed.extend(self.board.acknowledge(at, advisory));
            }
            CrewInput::Silence { minutes } => {
                self.changed.extend(self.board.silence(at, *minutes));
            }
            CrewInput::Session(SessionMark::Start) => self.start_session(at, feed, sequence),
            CrewInput::Forget => self.forecaster.forget(),
            CrewInput::Plan { answer, asked } => {
                self.answer(at, feed, sequence, *answer, asked.as_ref());
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
                    self.report(at, sequence, input);
                }
            },
            CrewInput::Strike(_) | CrewInput::OfMark { .. } => {
                if !self.report(at, sequence, input) {
                    self.inputs.refused(feed, Cause::Answered);
                }
            }
            CrewInput::Mark(said) if said.position.is_none() => {
                let mark = CrewInput::Mark(MarkSaid {
                    position: self.vessel.here(at).position.map(GeoPosition::from),
                    ..said.clone()
                });
                self.report(at, sequence, &mark);
            }
            _ => {
                self.report(at, sequence, input);
            }
        }
        self.vessel.correct(at, self.deck.now(at).corrections);
    }

    /// Enters a report or a retraction in the log of the deck, and hands the event on. False when
    /// it changes nothing.
    fn report(&mut self, at: Millis, sequence: u32, input: &CrewInput) -> bool {
        let event = self.deck.observe(at, sequence, input);
        self.heed_ignored(at);
        if let Some(event) = &event {
            self.forecaster.observe(event);
            if let CrewEvent::Retracted { report, .. } = event {
                self.board.retracted(report);
            }
        }
        event.is_some()
    }

    /// Sources that the crew ignores are used no more.
    fn heed_ignored(&mut self, at: Millis) {
        let ignored = self.deck.now(at).ignored;
        self.vessel
            .ignore(ignored.into_iter().map(|(name, _)| name));
    }

    fn start_session(&mut self, at: Millis, feed: &str, sequence: u32) {
        let settings = &self.settings;
        // Number 0 of this feed is the daemon's: what was marked before, it says anew.
        self.deck = if feed == CREW_FEED && sequence == 0 {
            Deck::new(settings.lines_out)
        } else {
            self.deck.next_session(at, settings.lines_out)
        };
        self.heed_ignored(at);
        let settings = &self.settings;
        self.turn = self.turn.next_session(settings.turn);
        self.forecaster = settings.forecaster.clone().succeeding(&self.forecaster);
    }

    /// Moves the line that an answer says was moved. An answer that names no request answers the
    /// one asked first now; an answer that names one is counted once.
    fn answer(
        &mut self,
        at: Millis,
        feed: &str,
        sequence: u32,
        answer: PlanAnswer,
        asked: Option<&Asked>,
    ) {
        if let Some(asked) = asked {
            let named = CrewInput::Plan {
                answer,
                asked: Some(asked.clone()),
            };
            if self.report(at, sequence, &named) {
                self.board.answered(at, asked.line, answer);
            } else {
                self.inputs.refused(feed, Cause::Answered);
            }
        } else if let Some(asked) = first_asked(&self.board.living())
            && let Some(moved) = moved_by(answer, &asked)
        {
            self.report(at, sequence, &moved);
        }
    }

    /// Applies the collected changes of settings. What was learnt about another kite is kept for
    /// it; crew reports, wind record and advisories stay. Lines out at the start apply from the
    /// next start of fishing.
    pub(super) fn revise(&mut self, feed: &str) {
        let changes = std::mem::take(&mut self.changes);
        let revised = self
            .settings
            .source
            .as_ref()
            .and_then(|source| source.revise(&changes));
        match revised {
            Some(settings) => {
                self.forecaster = settings.forecaster.clone().replacing(&self.forecaster);
                self.board.set(settings.advice);
                self.strike = self.strike.revised(Arc::clone(&settings.strike));
                self.revised.clone_from(&settings.source);
                self.settings = settings;
            }
            None => self.inputs.refused(feed, Cause::Setting),
        }
    }
}
