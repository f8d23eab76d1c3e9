//! Advisories while two turns are known of: which one is behind a trouble, and being called off.

use skimwatch::advice::{AdviceBoard, AdviceSettings, Advisory, Kind, Outcome};
use skimwatch::forecast::{Forecast, Trouble, TurnAhead, TurnSource};

use crate::forecast_scene::{Boat, at, deck};
use crate::score_scene::forecast;

fn turn(source: TurnSource, starts_in_s: f64, to_deg: f64) -> TurnAhead {
    TurnAhead {
        source,
        starts_in_s,
        by_deg: -45.0,
        rate_deg_s: 3.0,
        to_heading_deg_true: to_deg,
        chance: 0.97,
    }
}

/// A bait that flies with this chance `onset_s` from now, and the turns that are known of.
fn said(s: f64, chance: f64, onset_s: f64, turns: &[TurnAhead]) -> Forecast {
    let mut said = forecast(s, Trouble::BaitAirborne, chance, onset_s);
    said.turn = turns.first().copied();
    said.turns_after = turns.iter().skip(1).copied().collect();
    said
}

struct Day(AdviceBoard);

impl Day {
    fn new() -> Self {
        Self(AdviceBoard::new(AdviceSettings::default()))
    }

    fn hear(&mut self, s: f64, forecast: &Forecast) -> Vec<Advisory> {
        let boat = Boat::with_wind_abeam(8.0);
        let vessel = boat.now(at(s));
        let out = self
            .0
            .update(at(s), &vessel, &deck(100.0, 140.0), Ok(forecast));
        out.into_iter()
            .filter(|advisory| advisory.kind == Kind::BaitAirborne)
            .collect()
    }

    /// The advisory that is raised while this is said again and again, from second 30 on.
    fn raised(&mut self, chance: f64, onset_s: f64, turns: &[TurnAhead]) -> Advisory {
        let told = (0..35).flat_map(|s| {
            let s = f64::from(s);
            self.hear(s, &said(s, chance, onset_s, turns))
        });
        let told: Vec<Advisory> = told.collect();
        told.first().expect("an advisory is raised").clone()
    }
}

#[test]
fn calling_off_the_turn_behind_a_trouble_withdraws_it_though_another_is_left() {
    let pilot = turn(TurnSource::Autopilot, 2.0, 45.0);
    let crew = turn(TurnSource::Crew, 60.0, 0.0);
    let mut day = Day::new();
    // The trouble comes after the second turn has begun (onset 60 s + 10 s, scene's arithmetic).
    let raised = day.raised(0.9, 60.0, &[pilot, crew]);
    assert!(raised.cause.contains("announced"), "{}", raised.cause);
    // What is left would keep an advisory alive, but raises none.
    let settings = AdviceSettings::default();
    let left = 0.5 * (settings.clear_chance + settings.raise_chance_planned);
    let out = day.hear(35.0, &said(35.0, left, 5.0, &[pilot]));
    assert_eq!(out[0].outcome, Some(Outcome::Withdrawn), "{out:?}");
}

#[test]
fn calling_off_another_turn_leaves_it() {
    let pilot = turn(TurnSource::Autopilot, 2.0, 45.0);
    let crew = turn(TurnSource::Crew, 60.0, 0.0);
    let mut day = Day::new();
    let raised = day.raised(0.9, 5.0, &[pilot, crew]);
    assert!(raised.cause.contains("autopilot"), "{}", raised.cause);
    let out = day.hear(35.0, &said(35.0, 0.3, 5.0, &[pilot]));
    assert!(out.iter().all(|a| a.outcome.is_none()), "{out:?}");
}

#[test]
fn a_turn_that_comes_before_does_not_call_off_the_one_behind_a_trouble() {
    let crew = turn(TurnSource::Crew, 60.0, 0.0);
    let mut day = Day::new();
    let raised = day.raised(0.9, 60.0, &[crew]);
    assert!(raised.cause.contains("announced"), "{}", raised.cause);
    let pilot = turn(TurnSource::Autopilot, 0.0, 45.0);
    let out = day.hear(35.0, &said(35.0, 0.0, 60.0, &[pilot, crew]));
    assert!(out.iter().all(|a| a.outcome.is_none()), "{out:?}");
}
