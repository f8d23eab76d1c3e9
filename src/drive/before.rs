//! What the crew said before the program was restarted, folded to what still counts.
//!
//! In: crew sentences with their stamps, and now and then what the system's clock said at a stamp.
//! Out: the few inputs that restore the same deck. Reports of bait, elevation and bearing are not
//! among them: what they taught is stored elsewhere, and repeated they would count twice.

use std::collections::VecDeque;

use super::said_again::{launched, lines, marked, strike};
use crate::advice::SEEN_LATELY_S;
use crate::decode::crew_sentence::MOST_AGE_S;
use crate::decode::{CrewInput, Priority, SessionMark};
use crate::time::Millis;
use crate::units::{degrees_per_second, radians};
use crate::vessel::{Deck, LinesOut};

/// Acknowledgements remembered; there are fewer kinds of advisories.
const MOST_SEEN: usize = 32;

/// System clock and stamps that differ by less are one clock.
const SAME_CLOCK_S: f64 = 0.5;

/// See the head of the file.
#[derive(Debug, Clone)]
pub(super) struct Told {
    initial: LinesOut,
    deck: Deck,
    silence: Option<(Millis, f64)>,
    seen: VecDeque<(Millis, String, Option<Priority>)>,
    /// Stamp of the last sign of life.
    last: Option<Millis>,
    /// How far the system's clock is ahead of the stamps: it may be set while the program runs,
    /// and stamps never jump.
    ahead_s: f64,
}

impl Told {
    /// Nothing told; `initial` is the line out of the settings.
    pub fn new(initial: LinesOut) -> Self {
        Self {
            initial,
            deck: Deck::new(initial),
            silence: None,
            seen: VecDeque::new(),
            last: None,
            ahead_s: 0.0,
        }
    }

    /// The system's clock said `wall` at this stamp.
    pub fn clock(&mut self, at: Millis, wall: Millis) {
        self.last = self.last.max(Some(at));
        let ahead_s = wall.seconds_since(at);
        // Both are read one after the other; a clock that was set differs by more.
        self.ahead_s = if ahead_s.abs() < SAME_CLOCK_S {
            0.0
        } else {
            ahead_s
        };
    }

    /// The crew said this.
    pub fn take(&mut self, at: Millis, sequence: u32, input: &CrewInput) {
        self.last = self.last.max(Some(at));
        match input {
            CrewInput::Acknowledge { advisory, priority } => {
                self.see(at, advisory, *priority);
            }
            CrewInput::Silence { minutes } => self.quiet(at, *minutes),
            CrewInput::Session(SessionMark::Start) => {
                self.deck = self.deck.next_session(at, self.initial);
            }
            CrewInput::Before {
                age_s, input: said, ..
            } => {
                let then = at.plus_seconds(-age_s);
                match said.as_ref() {
                    CrewInput::Acknowledge { advisory, priority } => {
                        self.see(then, advisory, *priority);
                    }
                    CrewInput::Silence { minutes } => self.quiet(then, *minutes),
                    _ => {
                        self.deck.observe(at, sequence, input);
                    }
                }
            }
            _ => {
                self.deck.observe(at, sequence, input);
            }
        }
    }

    fn see(&mut self, at: Millis, advisory: &str, priority: Option<Priority>) {
        if self.seen.len() == MOST_SEEN {
            self.seen.pop_front();
        }
        self.seen.push_back((at, advisory.to_owned(), priority));
    }

    fn quiet(&mut self, at: Millis, minutes: f64) {
        self.silence = (minutes > 0.0).then_some((at, minutes));
    }

    /// For how long nothing had run when the system's clock says `wall`; negative when that clock
    /// is behind, `None` when nothing ever ran.
    pub fn down_s(&self, wall: Millis) -> Option<f64> {
        Some(wall.seconds_since(self.last?) - self.ahead_s)
    }

    /// What counts at this stamp, each with its own stamp, in an order in which it can be repeated.
    pub fn counting(&self, at: Millis) -> Vec<(Millis, CrewInput)> {
        let deck = self.deck.now(at);
        let mut list = Vec::new();
        // What is raised by the rest must find these.
        if let Some((told, minutes)) = self.silence
            && at.seconds_since(told) < 60.0 * minutes
        {
            list.push((told, CrewInput::Silence { minutes }));
        }
        for (told, advisory, priority) in &self.seen {
            if at.seconds_since(*told) <= SEEN_LATELY_S {
                let input = CrewInput::Acknowledge {
                    advisory: advisory.clone(),
                    priority: *priority,
                };
                list.push((*told, input));
            }
        }
        if deck.fishing {
            // It forgets the lines, so it goes before them.
            if let Some(launch) = deck.launch {
                list.extend(launched(&launch));
            }
            list.extend(lines(&deck, at));
            if let Some((in_water, told)) = deck.marker_in_water {
                list.push((told, CrewInput::MarkerInWater(in_water)));
            }
            list.extend(deck.strike.as_ref().map(strike).unwrap_or_default());
            if let Some(turn) = deck.intended_turn {
                let input = CrewInput::Turn {
                    by: radians(turn.by_rad),
                    rate: degrees_per_second(turn.rate_rad_s.to_degrees()),
                    in_s: turn.starts_at.seconds_since(turn.told_at),
                };
                list.push((turn.told_at, input));
            }
        } else {
            let stopped = CrewInput::Session(SessionMark::Stop);
            list.push((self.last.unwrap_or(at), stopped));
        }
        for (name, told) in deck.ignored {
            list.push((told, CrewInput::Source { name, used: false }));
        }
        for mark in deck.marks {
            list.extend(marked(&mark));
        }
        let corrections = deck.corrections.said().into_iter();
        list.extend(corrections.map(|(told, said)| (told, CrewInput::Correct(said))));
        list
    }

    /// What to repeat when the program starts at `now` by the system's clock. It counts when
    /// nothing ran for at most `use_within_s`, which is not at all when that is 0 or the clock is
    /// behind; marks and corrections of instruments always count.
    pub fn anew(&self, now: Millis, use_within_s: f64) -> Vec<CrewInput> {
        let down_s = self.down_s(now);
        let fresh = use_within_s > 0.0
            && down_s.is_some_and(|down_s| (0.0..=use_within_s).contains(&down_s));
        // As the stamps of then would go on.
        let at = now.plus_seconds(-self.ahead_s);
        let mut anew = Vec::new();
        for (told, input) in self.counting(at) {
            // What a damaged file dates further off is told at the bound of the sentence.
            let bounded = |age_s: f64| age_s.clamp(-MOST_AGE_S, MOST_AGE_S);
            let age_s = bounded(at.seconds_since(told));
            let before = |age_s, counts, input| CrewInput::Before {
                age_s,
                counts,
                input: Box::new(input),
            };
            anew.extend(match input {
                // Whole seconds leave the more room for its name.
                CrewInput::Mark(_) | CrewInput::OfMark { .. } => {
                    Some(before(age_s.round(), true, input))
                }
                CrewInput::Correct(_) => Some(before(age_s, true, input)),
                CrewInput::LinesOut { .. } => Some(before(age_s, fresh, input)),
                CrewInput::Before {
                    age_s: older_s,
                    counts,
                    input,
                } => Some(CrewInput::Before {
                    age_s: bounded(age_s + older_s),
                    counts: counts && fresh,
                    input,
                }),
                _ => fresh.then(|| before(age_s, true, input)),
            });
        }
        anew
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decode::{
        Asked, BaitState, CorrectBy, Correction, Decoder, GeoPosition, LaunchDay, LaunchSaid, Line,
        MarkChange, MarkHow, MarkSaid, PlanAnswer, SetAndDrift, StrikeWord, Talker, encode_crew,
    };
    use crate::geodesy::Position;
    use crate::units::{degrees, metres, metres_per_second};
    use crate::vessel::{DeckNow, MarkSource, StrikeCause, StrikeEnd, StrikeStep};

    const SETTINGS: LinesOut = LinesOut {
        kite_m: Some(60.0),
        main_m: Some(75.0),
    };
    const LIMIT_S: f64 = 1800.0;

    fn s(t: f64) -> Millis {
        Millis(1_780_000_000_000).plus_seconds(t)
    }

    fn out(kite_m: f64, main_m: f64) -> CrewInput {
        CrewInput::LinesOut {
            kite: Some(metres(kite_m)),
            main: Some(metres(main_m)),
        }
    }

    fn told(inputs: &[(f64, CrewInput)]) -> Told {
        let mut told = Told::new(SETTINGS);
        for (sequence, (at_s, input)) in (1..).zip(inputs) {
            told.take(s(*at_s), sequence, input);
        }
        told
    }

    /// The deck of a program that starts at `now` with what is said anew.
    fn after(told: &Told, now: f64) -> DeckNow {
        let mut deck = Deck::new(SETTINGS);
        for input in told.anew(s(now), LIMIT_S) {
            deck.observe(s(now), 0, &input);
        }
        deck.now(s(now))
    }

    #[test]
    fn a_strike_goes_on_where_it_was_and_asks_anew_where_the_fish_is() {
        let word = CrewInput::Strike;
        let fish = StrikeWord::Fish {
            off_bow: degrees(135.0),
        };
        let mut said = vec![
            (0.0, out(110.0, 128.0)),
            (60.0, CrewInput::Bite),
            (65.0, word(StrikeWord::MarkerDown)),
            (70.0, word(StrikeWord::DragSet)),
            (75.0, word(fish)),
            (80.0, word(StrikeWord::Turned)),
        ];
        let strike = after(&told(&said), 200.0).strike.unwrap();
        assert_eq!((strike.at, strike.step), (s(60.0), StrikeStep::Fish));
        assert_eq!(strike.answered_at(StrikeStep::Watch), Some(s(65.0)));
        assert_eq!(strike.lines.kite_m, Some(110.0));
        said.push((90.0, word(StrikeWord::KiteIn)));
        said.push((95.0, word(StrikeWord::Landed)));
        let strike = after(&told(&said), 200.0).strike.unwrap();
        assert!(strike.kite_in);
        assert_eq!(strike.ended, Some((StrikeEnd::Landed, s(95.0))));
        let home = [(0.0, out(110.0, 128.0)), (60.0, word(StrikeWord::Home))];
        let strike = after(&told(&home), 200.0).strike.unwrap();
        assert_eq!(
            (strike.at, strike.cause, strike.step),
            (s(60.0), StrikeCause::Home, StrikeStep::BaitIn)
        );
    }

    #[test]
    fn what_was_told_makes_the_same_deck_again() {
        let mark = CrewInput::Mark(MarkSaid {
            name: Some("birds".to_owned()),
            position: None,
            how: MarkHow::Here,
            number: None,
        });
        let turn = CrewInput::Turn {
            by: degrees(-40.0),
            rate: degrees_per_second(2.0),
            in_s: 120.0,
        };
        let asked = Asked {
            advisory: "bait-airborne-1".to_owned(),
            revision: 2,
            line: Line::Main,
            by: metres(8.0),
        };
        let half = CrewInput::Plan {
            answer: PlanAnswer::Half,
            asked: Some(asked),
        };
        let told = told(&[
            (0.0, out(110.0, 128.0)),
            (10.0, CrewInput::MarkerInWater(true)),
            (20.0, half.clone()),
            (21.0, half),
            (30.0, mark),
            (40.0, turn),
            (50.0, CrewInput::Bait(BaitState::Skipping)),
            (60.0, CrewInput::Bite),
        ]);
        let deck = after(&told, 90.0);
        // Half of 8 m given, once: the second answer is the first one's.
        assert_eq!(deck.lines.main_m, Some(132.0));
        assert_eq!(
            (deck.lines.kite_m, deck.lines_at),
            (Some(110.0), Some(s(20.0)))
        );
        assert!(deck.restored.unwrap().used);
        assert_eq!(deck.marker_in_water, Some((true, s(10.0))));
        assert_eq!(deck.bite_at(), Some(s(60.0)));
        assert_eq!(deck.intended_turn.unwrap().starts_at, s(160.0));
        assert_eq!(deck.marks[0].at, s(30.0));
        assert_eq!(deck.bait, None, "it has taught already");
    }

    #[test]
    fn marks_keep_number_drift_and_doubt() {
        let mark = |seen_m: f64| {
            CrewInput::Mark(MarkSaid {
                name: None,
                position: Some(GeoPosition::from(Position {
                    latitude_deg: 45.0,
                    longitude_deg: 12.0,
                })),
                how: MarkHow::ByEye {
                    range: metres(seen_m),
                },
                number: None,
            })
        };
        let of = |number, change| CrewInput::OfMark { number, change };
        let way = SetAndDrift {
            set: degrees(120.0),
            drift: metres_per_second(0.4),
        };
        let told = told(&[
            (0.0, mark(100.0)),
            (10.0, mark(300.0)),
            (20.0, of(2, MarkChange::Drifts(Some(way)))),
            (40.0, of(1, MarkChange::Removed)),
        ]);
        let was = told.deck.now(s(60.0)).marks.remove(0);
        for later_s in [90.0, 5000.0] {
            let marks = after(&told, later_s).marks;
            assert_eq!(marks.len(), 1);
            let is = &marks[0];
            assert_eq!((is.number, is.source), (2, MarkSource::ByEye));
            let drift = is.drift.unwrap();
            assert!((drift.set_rad.to_degrees() - 120.0).abs() < 0.06);
            assert!((drift.drift_mps - 0.4).abs() < 1e-9);
            let apart = was.position_at(s(later_s)).unwrap();
            let apart = apart.way_to(is.position_at(s(later_s)).unwrap()).unwrap();
            assert!(apart.range_m() < 0.005 * later_s, "{apart:?}");
            assert!((was.sigma_m(s(later_s)) - is.sigma_m(s(later_s))).abs() < 0.5);
        }
    }

    #[test]
    fn corrections_of_instruments_outlive_any_pause() {
        let correction = |deg: f64| {
            CrewInput::Correct(Correction {
                talker: Talker::new("WI").unwrap(),
                by: CorrectBy::WindAngle(degrees(deg)),
            })
        };
        let told = told(&[
            (0.0, correction(3.0)),
            (60.0, correction(5.0)),
            (65.0, CrewInput::Undo { of: 2 }),
        ]);
        for later_s in [90.0, 90_000.0] {
            let put_on = after(&told, later_s).corrections.wind_angle_rad.unwrap();
            assert_eq!(put_on.at, s(0.0));
            assert!((put_on.by.to_degrees() - 3.0).abs() < 1e-9);
        }
    }

    #[test]
    fn an_undone_input_does_not_come_back() {
        let told = told(&[
            (0.0, out(110.0, 132.0)),
            (60.0, out(11.0, 13.0)),
            (65.0, CrewInput::Undo { of: 2 }),
            (70.0, CrewInput::Bite),
            (71.0, CrewInput::Undo { of: 4 }),
        ]);
        let deck = after(&told, 100.0);
        assert_eq!(deck.lines.main_m, Some(132.0));
        assert_eq!(deck.bite_at(), None);
    }

    #[test]
    fn how_long_nothing_ran_decides_not_how_long_ago_it_was_told() {
        let mut told = told(&[
            (0.0, out(110.0, 132.0)),
            (1.0, CrewInput::MarkerInWater(true)),
        ]);
        // Two quiet hours, then 5 s without the program.
        told.clock(s(7200.0), s(7200.0));
        let deck = after(&told, 7205.0);
        assert_eq!(
            (deck.lines.main_m, deck.lines_at),
            (Some(132.0), Some(s(0.0)))
        );
        for (down_s, used) in [(1800.0, true), (1800.1, false), (-0.1, false)] {
            let deck = after(&told, 7200.0 + down_s);
            let restored = deck.restored.unwrap();
            assert_eq!(restored.used, used, "{down_s}");
            assert_eq!(
                (restored.as_of, restored.lines.kite_m),
                (s(0.0), Some(110.0))
            );
            assert_eq!(deck.lines.main_m.is_some(), used);
            assert_eq!(deck.marker_in_water.is_some(), used);
        }
        let never = told.anew(s(7200.0), 0.0);
        assert!(matches!(
            never[..],
            [CrewInput::Before { counts: false, .. }]
        ));
    }

    #[test]
    fn stamps_of_any_century_are_said_anew_in_sentences_that_are_read() {
        for (then, now) in [
            (Millis::LATEST, Millis(0)),
            (Millis(0), Millis::LATEST),
            (Millis(0), Millis(i64::MAX)),
        ] {
            let mut told = Told::new(LinesOut {
                kite_m: None,
                main_m: None,
            });
            told.take(then, 1, &out(110.0, 132.0));
            let anew = told.anew(now, LIMIT_S);
            assert_eq!(anew.len(), 1);
            let sentence = encode_crew(&anew[0], 0);
            assert!(Decoder::new().decode(&sentence).is_ok(), "{sentence}");
        }
    }

    #[test]
    fn a_clock_that_was_set_while_the_program_ran_is_reckoned_with() {
        let mut told = told(&[(0.0, out(110.0, 132.0))]);
        told.clock(s(0.0), s(0.0));
        // The system's clock was set three hours on.
        told.clock(s(600.0), s(600.0 + 10_800.0));
        let [CrewInput::Before { age_s, counts, .. }] = told.anew(s(11_405.0), LIMIT_S)[..] else {
            panic!("one input");
        };
        assert!(counts);
        assert!((age_s - 605.0).abs() < 1e-9);
    }

    #[test]
    fn lines_set_aside_once_are_not_used_after_the_next_restart() {
        let first = told(&[(0.0, out(110.0, 132.0))]);
        let start = 4000.0;
        let mut second = Told::new(SETTINGS);
        for input in first.anew(s(start), LIMIT_S) {
            second.take(s(start), 0, &input);
        }
        let deck = after(&second, start + 5.0);
        let restored = deck.restored.unwrap();
        assert!(!restored.used && deck.lines.kite_m.is_none());
        assert_eq!(restored.as_of, s(0.0));
        // Confirmed, they are.
        second.take(s(start + 10.0), 7, &out(110.0, 130.0));
        let deck = after(&second, start + 15.0);
        assert!(deck.restored.unwrap().used);
        assert_eq!(deck.lines.main_m, Some(130.0));
    }

    #[test]
    fn a_stopped_session_stays_stopped_for_a_while() {
        let told = told(&[
            (0.0, out(110.0, 132.0)),
            (10.0, CrewInput::Session(SessionMark::Stop)),
        ]);
        assert!(!after(&told, 100.0).fishing);
        let later = after(&told, 5000.0);
        assert!(later.fishing);
        assert_eq!((later.lines, later.restored), (SETTINGS, None));
    }

    #[test]
    fn silence_and_acknowledgements_last_their_time() {
        let seen = CrewInput::Acknowledge {
            advisory: "bait-airborne-3".to_owned(),
            priority: Some(Priority::Warning),
        };
        let told = told(&[(0.0, CrewInput::Silence { minutes: 12.0 }), (1.0, seen)]);
        let said = |now: f64| told.anew(s(now), LIMIT_S).len();
        assert_eq!((said(600.0), said(602.0), said(721.0)), (2, 1, 0));
        let ended = {
            let mut told = told.clone();
            told.take(s(5.0), 9, &CrewInput::Silence { minutes: 0.0 });
            told.anew(s(6.0), LIMIT_S).len()
        };
        assert_eq!(ended, 1);
    }

    #[test]
    fn nothing_told_says_nothing() {
        assert_eq!(Told::new(SETTINGS).anew(s(0.0), LIMIT_S), []);
        let moved = CrewInput::Bait(BaitState::Airborne);
        assert_eq!(told(&[(0.0, moved)]).anew(s(1.0), LIMIT_S), []);
    }

    #[test]
    fn a_launch_goes_on_where_it_was() {
        let begun = CrewInput::Launch(LaunchSaid::Begun(LaunchDay {
            wind: metres_per_second(7.0),
            gust: metres_per_second(9.0),
            speed: metres_per_second(3.0),
            off_bow: degrees(60.0),
            kite_line: metres(100.0),
        }));
        let answered = CrewInput::Launch(LaunchSaid::Answered {
            steps: 8,
            kite: Some(metres(32.0)),
            main: Some(metres(50.0)),
        });
        let told = told(&[(0.0, out(90.0, 120.0)), (10.0, begun), (60.0, answered)]);
        let deck = after(&told, 100.0);
        let launch = deck.launch.unwrap();
        assert_eq!(
            (launch.begun_at, launch.at, launch.answered),
            (s(10.0), s(60.0), 8)
        );
        assert!((launch.kite_line_m - 100.0).abs() < 1e-9);
        assert_eq!(deck.lines.main_m, Some(50.0));
        assert_eq!(deck.lines_at, Some(s(60.0)));
        let deck = after(&told, 60.0 + LIMIT_S + 1.0);
        assert_eq!((deck.launch, deck.lines.main_m), (None, None));
    }
}
