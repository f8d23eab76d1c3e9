//! A boat with forecaster, turn watch and crew, for the checks of the forecast.

use std::sync::Arc;

use skimwatch::decode::{BaitState, CrewInput};
use skimwatch::forecast::{
    Chance, Effort, Forecast, ForecastSettings, Forecaster, NoForecast, Trouble,
};
use skimwatch::rig::RigParameters;
use skimwatch::turn::{TurnSettings, TurnWatch};
use skimwatch::units::{degrees, degrees_per_second};
use skimwatch::vessel::VesselNow;

use crate::forecast_scene::{Boat, Crew, Helm, at};

/// 16 kn of wind on the beam, 6 kn of boat, 100 m of kite line, trimmed to a quarter under (143 m
/// of main line: an example of the independent runs that the physics notes quote).
pub fn boat() -> Boat {
    Boat::with_wind_abeam(8.2)
}

pub const KITE_M: f64 = 100.0;
pub const MAIN_M: f64 = 143.0;

pub struct Watch {
    pub turns: TurnWatch,
    pub forecaster: Forecaster,
    pub helm: Helm,
    pub crew: Crew,
    pub s: f64,
}

pub fn small() -> ForecastSettings {
    ForecastSettings {
        futures: 48,
        ..ForecastSettings::default()
    }
}

impl Watch {
    pub fn new(settings: ForecastSettings, heading_deg: f64) -> Self {
        Self {
            turns: TurnWatch::new(TurnSettings::default()),
            forecaster: Forecaster::new(settings, Some(RigParameters::default()), 10.0).unwrap(),
            helm: Helm {
                boat: Boat {
                    heading_deg,
                    ..boat()
                },
                time_constant_s: 2.5,
            },
            crew: Crew::with_lines(KITE_M, MAIN_M),
            s: 0.0,
        }
    }

    pub fn vessel(&self) -> VesselNow {
        self.helm.boat.now(at(self.s))
    }

    pub fn look(&mut self) -> Result<Arc<Forecast>, NoForecast> {
        let now = at(self.s);
        let vessel = self.vessel();
        let deck = self.crew.deck.now(now);
        let outlook = self.turns.outlook(now, &vessel, &deck);
        self.forecaster
            .forecast(now, &vessel, &deck, &outlook, Effort::FULL)
    }

    pub fn on(&mut self, seconds: u32, helm_deg_s: f64) -> Arc<Forecast> {
        let mut last = None;
        for _ in 0..seconds {
            let forecast = self.look().unwrap();
            assert!(forecast.futures > 0, "no futures at {} s", self.s);
            last = Some(forecast);
            self.helm.steer(helm_deg_s, 1.0);
            self.s += 1.0;
        }
        last.unwrap()
    }

    /// The crew says something; returns its number.
    pub fn says(&mut self, input: &CrewInput) -> u32 {
        self.crew.says(at(self.s), &mut self.forecaster, input)
    }

    pub fn sees(&mut self, state: BaitState) -> u32 {
        self.says(&CrewInput::Bait(state))
    }

    pub fn announces(&mut self, in_s: f64, by_deg: f64, rate_deg_s: f64) {
        self.says(&CrewInput::Turn {
            by: degrees(by_deg),
            rate: degrees_per_second(rate_deg_s),
            in_s,
        });
    }
}

pub fn chance_of(forecast: &Forecast, kind: Trouble) -> &Chance {
    let of_kind = |c: &&Chance| c.kind == kind;
    forecast.chances.iter().find(of_kind).unwrap()
}

pub fn chance(forecast: &Forecast, kind: Trouble) -> f64 {
    chance_of(forecast, kind).chance
}
