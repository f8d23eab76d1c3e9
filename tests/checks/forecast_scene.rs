//! Invented boats and decks for the checks of turn, forecast and advice.

use skimwatch::angles::wrap_positive;
use skimwatch::decode::{BaitState, CrewInput};
use skimwatch::engine::EngineSettings;
use skimwatch::forecast::{Forecaster, RigView, ViewPoint};
use skimwatch::time::Millis;
use skimwatch::units::metres;
use skimwatch::vessel::{
    Answers, ApparentWind, BaitSeen, Corrections, Deck, DeckNow, Grade, IntendedTurn, LinesOut,
    Reading, TrueWind, VesselNow, WindStatistics,
};

/// Start of every invented day.
pub const START: Millis = Millis(1_795_600_000_000);

/// `s` seconds after the start.
pub fn at(s: f64) -> Millis {
    START.plus_seconds(s)
}

fn reading<T>(value: T, at: Millis) -> Option<Reading<T>> {
    Some(Reading {
        value,
        at,
        source: "invented".to_owned(),
        grade: Grade::Measured,
    })
}

/// The demo's rig with so many futures.
pub fn with_futures(futures: usize) -> EngineSettings {
    let text = std::fs::read_to_string("config/demo.toml").unwrap();
    let settings = skimwatch::settings::parse(&text, "config/demo.toml").unwrap();
    let mut forecast = settings.forecast;
    forecast.futures = futures;
    EngineSettings {
        forecaster: Forecaster::new(
            forecast,
            Some(settings.rig.parameters.clone()),
            settings.boat.wind_sensor_height_m,
        )
        .unwrap(),
        ..settings.engine().unwrap()
    }
}

/// A boat in wind, all instruments alive.
#[derive(Debug, Clone, Copy)]
pub struct Boat {
    pub heading_deg: f64,
    pub rate_deg_s: f64,
    pub speed_mps: f64,
    pub wind_mps: f64,
    pub wind_from_deg: f64,
}

impl Boat {
    /// Steady on east at 3 m/s in a north wind.
    pub fn with_wind_abeam(wind_mps: f64) -> Self {
        Self {
            heading_deg: 90.0,
            rate_deg_s: 0.0,
            speed_mps: 3.0,
            wind_mps,
            wind_from_deg: 0.0,
        }
    }

    pub fn now(&self, at: Millis) -> VesselNow {
        let heading_rad = wrap_positive(self.heading_deg.to_radians());
        let from_rad = self.wind_from_deg.to_radians();
        // Apparent wind = wind less the boat's own way, as vectors.
        let (air_e, air_n) = (
            -self.wind_mps * from_rad.sin() - self.speed_mps * heading_rad.sin(),
            -self.wind_mps * from_rad.cos() - self.speed_mps * heading_rad.cos(),
        );
        let apparent = ApparentWind {
            angle_rad: wrap_positive((-air_e).atan2(-air_n) - heading_rad),
            speed_mps: air_e.hypot(air_n),
        };
        VesselNow {
            at,
            heading_true_rad: reading(heading_rad, at),
            rate_of_turn_rad_s: reading(self.rate_deg_s.to_radians(), at),
            speed_water_mps: reading(self.speed_mps, at),
            speed_ground_mps: reading(self.speed_mps, at),
            course_true_rad: reading(heading_rad, at),
            position: None,
            rudder_rad: None,
            apparent_wind: reading(apparent, at),
            true_wind: reading(
                TrueWind {
                    from_rad,
                    speed_mps: self.wind_mps,
                },
                at,
            ),
            wind_statistics: Some(WindStatistics {
                window_s: 600.0,
                mean_mps: self.wind_mps,
                mean_from_rad: from_rad,
                speed_sd_mps: 0.06 * self.wind_mps,
                direction_sd_rad: 0.05,
                gust_mps: 1.15 * self.wind_mps,
                shift_rad: 0.0,
                gust_time_s: 8.0,
            }),
            hull_motion: None,
            variation_rad: reading(0.0, at),
            missing: Vec::new(),
            doubts: Vec::new(),
            sources: Vec::new(),
        }
    }
}

/// Lines out, nothing else said.
pub fn deck(kite_m: f64, main_m: f64) -> DeckNow {
    DeckNow {
        lines: LinesOut {
            kite_m: Some(kite_m),
            main_m: Some(main_m),
        },
        lines_at: Some(START),
        bait: None,
        elevation_rad: None,
        bearing_rad: None,
        marker_in_water: None,
        intended_turn: None,
        fishing: true,
        launch: None,
        strike: None,
        restored: None,
        marks: Vec::new(),
        unwanted: Vec::new(),
        ignored: Vec::new(),
        pass: None,
        corrections: Corrections::default(),
        answers: Answers::default(),
    }
}

/// Lines out by the crew's count.
pub fn lines_out(kite_m: f64, main_m: f64) -> CrewInput {
    CrewInput::LinesOut {
        kite: Some(metres(kite_m)),
        main: Some(metres(main_m)),
    }
}

/// What the crew says, entered in the deck's log and handed to the forecaster as the engine does.
#[derive(Debug, Clone)]
pub struct Crew {
    pub deck: Deck,
    sequence: u32,
}

impl Crew {
    /// Lines were set out at the start.
    pub fn with_lines(kite_m: f64, main_m: f64) -> Self {
        let mut deck = Deck::new(LinesOut {
            kite_m: None,
            main_m: None,
        });
        deck.observe(START, 0, &lines_out(kite_m, main_m));
        Self { deck, sequence: 0 }
    }

    /// Says something; returns its sequence number.
    pub fn says(&mut self, at: Millis, forecaster: &mut Forecaster, input: &CrewInput) -> u32 {
        self.sequence += 1;
        if let Some(event) = self.deck.observe(at, self.sequence, input) {
            forecaster.observe(&event);
        }
        self.sequence
    }
}

/// A view in which no line is drawn.
pub fn nothing_in_view() -> RigView {
    let point = ViewPoint {
        aft_m: 0.0,
        starboard_m: 0.0,
        up_m: 0.0,
    };
    RigView {
        in_s: 0.0,
        heading_deg_true: 90.0,
        wind_from_bow_deg: -70.0,
        kite_line: Vec::new(),
        main_line: Vec::new(),
        clip: point,
        marker: point,
        immersion: 0.25,
    }
}

/// The crew announces a turn.
pub fn announce(told_at: Millis, in_s: f64, by_deg: f64, rate_deg_s: f64) -> IntendedTurn {
    IntendedTurn {
        told_at,
        starts_at: told_at.plus_seconds(in_s),
        by_rad: by_deg.to_radians(),
        rate_rad_s: rate_deg_s.to_radians(),
    }
}

/// The crew says what the bait does.
pub fn tap(state: BaitState, at: Millis) -> BaitSeen {
    BaitSeen { state, at }
}

/// A boat under a helm with Nomoto's first-order answer.
#[derive(Debug, Clone, Copy)]
pub struct Helm {
    pub boat: Boat,
    pub time_constant_s: f64,
}

impl Helm {
    /// Steers at the commanded rate for `dt_s`, in small steps.
    pub fn steer(&mut self, commanded_deg_s: f64, dt_s: f64) {
        let steps = 50;
        let dt = dt_s / f64::from(steps);
        for _ in 0..steps {
            self.boat.rate_deg_s +=
                dt * (commanded_deg_s - self.boat.rate_deg_s) / self.time_constant_s;
            self.boat.heading_deg += dt * self.boat.rate_deg_s;
        }
    }
}
