//! Invented moments of the advice: a forecast with one chance in it, and a board that hears it.

use skimwatch::advice::{AdviceBoard, AdviceSettings, Advisory};
use skimwatch::decode::{CrewInput, Line};
use skimwatch::forecast::{
    Band, Chance, Crew, Forecast, Lack, LinePlan, NoForecast, PlanStep, Trouble, TurnAhead,
    TurnLimit, TurnSource,
};
use skimwatch::time::Millis;
use skimwatch::vessel::{DeckNow, Missing, Quantity, Report, VesselNow};

use crate::forecast_scene::{Boat, at, deck};
use crate::score_scene;

/// Whole seconds after which what is gone has been taken back: `clear_dwell_s` and a little more.
pub const GONE_S: i32 = 17;

pub fn vessel(now: Millis) -> VesselNow {
    Boat::with_wind_abeam(8.0).now(now)
}

/// An invented forecast: one chance with its onset, a turn to port, a plan to give line.
#[derive(Clone, Copy)]
pub struct Said {
    pub kind: Trouble,
    pub chance: f64,
    pub onset_at_s: f64,
    pub turn_at_s: Option<f64>,
}

pub fn forecast(now_s: f64, said: Said) -> Forecast {
    let onset_s = (said.onset_at_s - now_s).max(0.0);
    Forecast {
        horizon_s: 120.0,
        basis: "invented members.".to_owned(),
        t_s: vec![0.0, 60.0],
        bait_height_m: vec![
            Band {
                p10: 0.0,
                p50: 0.0,
                p90: 0.0,
            },
            Band {
                p10: 1.0,
                p50: 4.0,
                p90: 9.0,
            },
        ],
        chances: vec![Chance {
            kind: said.kind,
            chance: said.chance,
            so_now: 0.0,
            later_s: None,
            onset_s: Some(Band {
                p10: 0.8 * onset_s,
                p50: onset_s,
                p90: 1.2 * onset_s,
            }),
            chance_with_plan: Some(0.1 * said.chance),
        }],
        turn: said.turn_at_s.map(|turn_at_s| TurnAhead {
            source: TurnSource::Crew,
            starts_in_s: turn_at_s - now_s,
            by_deg: -45.0,
            rate_deg_s: 3.0,
            to_heading_deg_true: 45.0,
            chance: 0.97,
        }),
        plan: Some(LinePlan {
            steps: vec![PlanStep {
                line: Line::Main,
                by_m: 30.0,
                start_in_s: (said.onset_at_s - 20.0 - now_s).max(0.0),
                over_s: 30.0,
                pace_m_per_s: 1.0,
                cranks: None,
                in_one_go: false,
            }],
            skipping_without: 0.4,
            skipping_with: 0.9,
            shortfall: None,
        }),
        turn_limit: Some(TurnLimit {
            port_deg_s: Some(1.5),
            starboard_deg_s: Some(6.0),
            for_deg: 45.0,
            port_without_hands_deg_s: None,
            starboard_without_hands_deg_s: Some(1.0),
            tried_to_deg_s: 8.0,
            allowed_chance: 0.25,
            skips: true,
            why: "invented".to_owned(),
        }),
        crew: Crew {
            anchored: true,
            age_s: Some(60.0),
            learnt_age_s: None,
            note: "anchored 1 min ago".to_owned(),
        },
        ..score_scene::forecast(now_s, said.kind, said.chance, onset_s)
    }
}

pub struct Day {
    pub board: AdviceBoard,
    pub deck: DeckNow,
    pub log: Vec<Advisory>,
}

impl Day {
    /// The crew takes back what it said last of the bait.
    pub fn take_back_the_sighting(&mut self) {
        let seen = self.deck.bait.take().expect("nothing was said");
        self.board.retracted(&Report {
            number: 1,
            at: seen.at,
            sequence: 1,
            input: CrewInput::Bait(seen.state),
        });
    }

    pub fn new() -> Self {
        Self {
            board: AdviceBoard::new(AdviceSettings::default()),
            deck: deck(100.0, 140.0),
            log: Vec::new(),
        }
    }

    pub fn tick(&mut self, s: f64, said: Said) -> Vec<Advisory> {
        self.hear(s, &forecast(s, said))
    }

    pub fn hear(&mut self, s: f64, forecast: &Forecast) -> Vec<Advisory> {
        let out = self
            .board
            .update(at(s), &vessel(at(s)), &self.deck, Ok(forecast));
        self.log.extend(out.clone());
        out
    }

    /// A tick with so much of the chance for a bait that flies already.
    pub fn flies(&mut self, s: f64, said: Said, so_now: f64) -> Vec<Advisory> {
        let mut forecast = forecast(s, said);
        for chance in &mut forecast.chances {
            chance.so_now = so_now;
            chance.later_s = chance.onset_s.filter(|onset| onset.p50 > 0.0);
        }
        self.hear(s, &forecast)
    }

    pub fn blind(&mut self, s: f64, missing: bool, since_s: f64) -> Vec<Advisory> {
        let mut now = vessel(at(s));
        if missing {
            now.missing.push(Missing {
                quantity: Quantity::Wind,
                last_heard: Some(at(since_s)),
                why: "no wind".to_owned(),
            });
        }
        let lack = if missing { Lack::Sensor } else { Lack::LineOut };
        self.without(s, &now, &[(lack, "no wind")])
    }

    /// A tick without a forecast.
    pub fn without(&mut self, s: f64, now: &VesselNow, lacks: &[(Lack, &str)]) -> Vec<Advisory> {
        let none = lacks
            .iter()
            .map(|(lack, words)| (*lack, (*words).to_owned()));
        let none = NoForecast::of(none.collect());
        let out = self.board.update(at(s), now, &self.deck, Err(&none));
        self.log.extend(out.clone());
        out
    }
}

pub const LIFTS: Said = Said {
    kind: Trouble::BaitAirborne,
    chance: 0.85,
    onset_at_s: 60.0,
    turn_at_s: Some(50.0),
};
pub const CALM: Said = Said {
    chance: 0.02,
    turn_at_s: None,
    ..LIFTS
};
