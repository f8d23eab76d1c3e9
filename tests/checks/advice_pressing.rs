//! How pressing trouble without a turn is, and requests for line that hands can follow. All days
//! here are invented.

use skimwatch::advice::{Action, AdviceBoard, AdviceSettings, Advisory, Alertness, Priority};
use skimwatch::decode::{BaitState, Line};
use skimwatch::forecast::{Forecast, LinePlan, PlanStep, Trouble, TurnAhead, TurnSource};
use skimwatch::vessel::DeckNow;

use crate::forecast_scene::{Boat, at, deck, tap};
use crate::score_scene::forecast;

struct Day {
    board: AdviceBoard,
    deck: DeckNow,
}

impl Day {
    fn new(alertness: Alertness) -> Self {
        Self {
            board: AdviceBoard::new(AdviceSettings {
                alertness,
                ..AdviceSettings::default()
            }),
            deck: deck(100.0, 140.0),
        }
    }

    /// What lives after one moment, most pressing first.
    fn hear(&mut self, s: f64, forecast: &Forecast) -> Vec<Advisory> {
        let vessel = Boat::with_wind_abeam(8.0).now(at(s));
        self.board.update(at(s), &vessel, &self.deck, Ok(forecast));
        self.board.living()
    }

    /// The same for a bait that flies with this chance in so many seconds.
    fn flies(&mut self, s: f64, chance: f64, in_s: f64) -> Option<Priority> {
        let living = self.hear(s, &forecast(s, Trouble::BaitAirborne, chance, in_s));
        living.first().map(|advisory| advisory.priority)
    }
}

#[test]
fn alertness_sets_the_chance_from_which_trouble_without_a_turn_is_told() {
    // f / (f + 1) with a false alarm as bad as 4, 1.5 and 2/3 missed troubles: own arithmetic.
    for (alertness, from) in [
        (Alertness::Calm, 0.8),
        (Alertness::Normal, 0.6),
        (Alertness::Eager, 0.4),
    ] {
        for (chance, told) in [(from - 0.02, false), (from + 0.02, true)] {
            let mut day = Day::new(alertness);
            let found = (0..10).any(|s| day.flies(f64::from(s), chance, 60.0).is_some());
            assert_eq!(found, told, "{alertness:?} {chance}");
        }
    }
}

#[test]
fn trouble_without_a_turn_is_a_caution_until_it_is_near() {
    let mut day = Day::new(Alertness::Normal);
    let mut shown = Vec::new();
    for s in 0..10 {
        shown.push(day.flies(f64::from(s), 0.9, 60.0));
    }
    assert_eq!(shown.last(), Some(&Some(Priority::Caution)));
    // Near: more than a caution at once.
    assert_eq!(day.flies(10.0, 0.95, 12.0), Some(Priority::Warning));
    // It wobbles about the limit: what presses goes on pressing.
    for s in 11..40 {
        let in_s = if s % 4 < 2 { 8.0 } else { 18.0 };
        assert_eq!(
            day.flies(f64::from(s), 0.95, in_s),
            Some(Priority::Warning),
            "at {s}"
        );
    }
    // Far again for ten seconds.
    let eased: Vec<_> = (40..55)
        .map(|s| day.flies(f64::from(s), 0.9, 60.0))
        .collect();
    assert_eq!(eased.last(), Some(&Some(Priority::Caution)));
}

/// A bait that flies soon, with a plan that begins with this move.
fn asking(s: f64, line: Line, by_m: f64) -> Forecast {
    Forecast {
        plan: Some(LinePlan {
            steps: vec![PlanStep {
                line,
                by_m,
                start_in_s: 0.0,
                over_s: 5.0,
                pace_m_per_s: 1.0,
                cranks: None,
                in_one_go: false,
            }],
            skipping_without: 0.4,
            skipping_with: 0.9,
            shortfall: None,
        }),
        ..forecast(s, Trouble::KiteSinking, 0.95, 12.0)
    }
}

/// Line and metres that the board asks for.
fn asked(living: &[Advisory]) -> Option<(Line, f64)> {
    living
        .iter()
        .flat_map(|a| &a.actions)
        .find_map(|action| match action {
            Action::MoveLine { line, by_m, .. } => Some((*line, *by_m)),
            _ => None,
        })
}

/// A day on which the board has asked for main line up to 10 s.
fn asked_to_let_out() -> Day {
    let mut day = Day::new(Alertness::Normal);
    for s in 0..=10 {
        let living = day.hear(f64::from(s), &asking(f64::from(s), Line::Main, 10.0));
        if s == 10 {
            assert_eq!(asked(&living), Some((Line::Main, 10.0)));
        }
    }
    day
}

#[test]
fn a_request_is_not_turned_round_within_thirty_seconds() {
    for (line, by_m) in [(Line::Main, -8.0), (Line::Kite, 8.0)] {
        let mut day = asked_to_let_out();
        for s in 11..40 {
            let living = day.hear(f64::from(s), &asking(f64::from(s), line, by_m));
            assert_ne!(asked(&living), Some((line, by_m)), "at {s}");
            assert_eq!(living.len(), 1, "the trouble itself goes on being told");
        }
        // The old request may have stayed for a few seconds.
        let turned = (40..45).any(|s| {
            let living = day.hear(f64::from(s), &asking(f64::from(s), line, by_m));
            asked(&living) == Some((line, by_m))
        });
        assert!(turned);
    }
    // More of the same is no turn round.
    let mut day = asked_to_let_out();
    let more = (11..18).any(|s| {
        let living = day.hear(f64::from(s), &asking(f64::from(s), Line::Main, 20.0));
        asked(&living) == Some((Line::Main, 20.0))
    });
    assert!(more);
}

#[test]
fn a_report_or_an_announced_turn_may_turn_a_request_round_at_once() {
    let mut day = asked_to_let_out();
    day.deck.bait = Some(tap(BaitState::Dragging, at(11.0)));
    let living = day.hear(11.0, &asking(11.0, Line::Main, -8.0));
    assert_eq!(asked(&living), Some((Line::Main, -8.0)));

    for (source, at_once) in [
        (TurnSource::Crew, true),
        (TurnSource::Route, true),
        (TurnSource::UnderWay, false),
    ] {
        let mut day = asked_to_let_out();
        let mut forecast = asking(11.0, Line::Main, -8.0);
        forecast.turn = Some(TurnAhead {
            source,
            starts_in_s: 5.0,
            by_deg: -60.0,
            rate_deg_s: 3.0,
            to_heading_deg_true: 30.0,
            chance: 0.97,
        });
        let living = day.hear(11.0, &forecast);
        let turned = asked(&living) == Some((Line::Main, -8.0));
        assert_eq!(turned, at_once, "{source:?}");
    }
}

#[test]
fn flying_and_dragging_are_told_together_only_at_different_times() {
    for (apart_s, together) in [(2.0, 1), (12.0, 2)] {
        let mut day = Day::new(Alertness::Normal);
        let mut living = Vec::new();
        for s in 0..10 {
            let mut said = forecast(f64::from(s), Trouble::BaitAirborne, 0.9, 20.0);
            let drags = forecast(f64::from(s), Trouble::BaitDragging, 0.8, 20.0 + apart_s);
            said.chances.extend(drags.chances);
            living = day.hear(f64::from(s), &said);
        }
        assert_eq!(living.len(), together, "{apart_s} s apart");
        assert_eq!(living[0].kind, skimwatch::advice::Kind::BaitAirborne);
    }
}
