//! The script of a scene: everything that is fixed before it is played.

use crate::decode::{CrewInput, Line};
use crate::rig::{
    Conditions, Current, MainLine, NoTrim, Rig, RigParameters, Scenario, Waves, Wind, steady,
};
use crate::time::Millis;

/// First-order autoregressive gusts (an Ornstein-Uhlenbeck process), a common model of wind near
/// the sea; all zero for steady wind.
#[derive(Debug, Clone, Copy, Default)]
pub struct Gusts {
    /// Standard deviation of speed as a share of the mean.
    pub speed_share: f64,
    /// Correlation time of speed.
    pub speed_time_s: f64,
    /// Standard deviation of direction.
    pub direction_rad: f64,
    /// Correlation time of direction.
    pub direction_time_s: f64,
}

impl Gusts {
    /// Those of the demo's day. Invented.
    pub const OF_THE_DEMO: Self = Self {
        speed_share: 0.05,
        speed_time_s: 8.0,
        direction_rad: 2.5_f64.to_radians(),
        direction_time_s: 20.0,
    };
}

/// A lasting change of the wind.
#[derive(Debug, Clone, Copy)]
pub struct Shift {
    /// When it begins.
    pub start_s: f64,
    /// How long it takes.
    pub over_s: f64,
    /// Change of direction, + clockwise.
    pub by_rad: f64,
    /// Change of speed, as a factor on the mean.
    pub speed_factor: f64,
}

/// A turn of the boat.
#[derive(Debug, Clone, Copy)]
pub struct ScriptTurn {
    /// When the helm goes over.
    pub start_s: f64,
    /// Change of heading, + to starboard.
    pub by_rad: f64,
    /// Commanded rate, positive.
    pub rate_rad_s: f64,
    /// Time constant of the boat's yaw.
    pub yaw_time_s: f64,
    /// How long before it the crew announces it; `None` when it is only seen under way.
    pub announced_s: Option<f64>,
}

impl ScriptTurn {
    /// Heading change and yaw rate at `t_s`: the response of a first-order lag to a box.
    pub(super) fn at(&self, t_s: f64) -> (f64, f64) {
        let rate = self.rate_rad_s.copysign(self.by_rad);
        let length = (self.by_rad / rate).abs();
        let ramp = |t: f64| {
            if t <= 0.0 {
                (0.0, 0.0)
            } else {
                let decay = (-t / self.yaw_time_s).exp();
                (
                    rate * (t - self.yaw_time_s * (1.0 - decay)),
                    rate * (1.0 - decay),
                )
            }
        };
        let t = t_s - self.start_s;
        let (up, down) = (ramp(t), ramp(t - length));
        (up.0 - down.0, up.1 - down.1)
    }
}

/// Line given or taken at a steady pace.
#[derive(Debug, Clone, Copy)]
pub struct ScriptMove {
    /// When hands begin.
    pub start_s: f64,
    /// Which line.
    pub line: Line,
    /// + given, - taken.
    pub by_m: f64,
    /// How long it takes.
    pub over_s: f64,
    /// Whether the crew reports it: in equal steps while the line moves, the last when done.
    pub told: bool,
}

/// Errors and habits of the boat's instruments.
#[derive(Debug, Clone, Copy)]
pub struct Instruments {
    /// Height of the wind sensor.
    pub sensor_height_m: f64,
    /// Constant error of the wind angle.
    pub wind_angle_bias_rad: f64,
    /// Noise of the wind angle, standard deviation.
    pub wind_angle_noise_rad: f64,
    /// Noise of the wind speed, share of it.
    pub wind_speed_noise_share: f64,
    /// Noise of the heading.
    pub heading_noise_rad: f64,
    /// Noise of the rate of turn.
    pub rate_noise_rad_s: f64,
    /// Sentences of each kind a second.
    pub rate_hz: f64,
}

impl Default for Instruments {
    /// Invented, typical of small-boat instruments at 1 Hz.
    fn default() -> Self {
        Self {
            sensor_height_m: 6.0,
            wind_angle_bias_rad: 0.0,
            wind_angle_noise_rad: 1.0_f64.to_radians(),
            wind_speed_noise_share: 0.02,
            heading_noise_rad: 0.4_f64.to_radians(),
            rate_noise_rad_s: 0.3_f64.to_radians(),
            rate_hz: 1.0,
        }
    }
}

impl Instruments {
    /// Instruments without error, at the same height and rate.
    #[must_use]
    pub fn without_noise(self) -> Self {
        Self {
            wind_angle_bias_rad: 0.0,
            wind_angle_noise_rad: 0.0,
            wind_speed_noise_share: 0.0,
            heading_noise_rad: 0.0,
            rate_noise_rad_s: 0.0,
            ..self
        }
    }
}

/// A whole scene.
#[derive(Debug, Clone)]
pub struct Script {
    /// Moment of second 0.
    pub start: Millis,
    /// How long it lasts.
    pub duration_s: f64,
    /// Seed of gusts, waves and noise.
    pub seed: u64,
    /// The true rig.
    pub rig: RigParameters,
    /// Mean wind over the ground.
    pub wind: Wind,
    /// Gusts on it.
    pub gusts: Gusts,
    /// Lasting changes of it.
    pub shifts: Vec<Shift>,
    /// Systems of waves; none for flat water.
    pub waves: Vec<Waves>,
    /// Current.
    pub current: Current,
    /// Speed through the water.
    pub boat_speed_mps: f64,
    /// Heading at the start, true.
    pub heading_rad: f64,
    /// Kite line out at the start.
    pub kite_line_m: f64,
    /// Main line out at the start; `None` to trim for immersion 0.25.
    pub main_line_m: Option<f64>,
    /// Turns, in order, not overlapping.
    pub turns: Vec<ScriptTurn>,
    /// What hands do.
    pub moves: Vec<ScriptMove>,
    /// What the crew says besides turns and moves, with the second at which it is said.
    pub says: Vec<(f64, CrewInput)>,
    /// Interval at which the crew reports what the bait truly does, seconds; `None` if it does not.
    pub bait_reports_every_s: Option<f64>,
    /// Instruments.
    pub instruments: Instruments,
}

impl Script {
    /// Main line of a rig trimmed for `immersion` on a heading, in the mean wind after the shifts
    /// that have begun before `at_s`, with the kite line of the start.
    ///
    /// # Errors
    /// When that heading has no trim.
    pub fn trimmed_main_line_m(
        &self,
        rig: &Rig,
        heading_rad: f64,
        at_s: f64,
        immersion: f64,
    ) -> Result<f64, NoTrim> {
        let mut wind = self.wind;
        for shift in self.shifts.iter().filter(|shift| shift.start_s < at_s) {
            wind.from_rad += shift.by_rad;
            wind.speed_10m_mps *= shift.speed_factor;
        }
        let conditions = Conditions {
            wind,
            current: self.current,
            boat_speed_mps: self.boat_speed_mps,
            heading_rad,
            kite_line_out_m: self.kite_line_m,
        };
        steady(rig, &conditions, MainLine::Immersion(immersion), None)
            .map(|settled| settled.main_line_m)
    }

    /// A boat on a straight course in a still beam wind, trimmed, with exact instruments and a
    /// crew that says what the bait does.
    #[must_use]
    pub fn straight(start: Millis, rig: RigParameters, duration_s: f64) -> Self {
        Self {
            start,
            duration_s,
            seed: 1,
            rig,
            wind: Wind {
                speed_10m_mps: 8.0,
                from_rad: 0.0,
                shear_exponent: 0.11,
            },
            gusts: Gusts::default(),
            shifts: Vec::new(),
            waves: Vec::new(),
            current: Current {
                set_rad: 0.0,
                drift_mps: 0.0,
            },
            boat_speed_mps: 3.0,
            heading_rad: std::f64::consts::FRAC_PI_2,
            kite_line_m: 90.0,
            main_line_m: None,
            turns: Vec::new(),
            moves: Vec::new(),
            says: Vec::new(),
            bait_reports_every_s: Some(60.0),
            instruments: Instruments::default().without_noise(),
        }
    }

    /// A scenario of the rig model as a scene: its boat, air and rig, one turn at most, still
    /// air, exact instruments.
    #[must_use]
    pub fn from_scenario(scenario: &Scenario) -> Self {
        Self {
            wind: scenario.wind(),
            waves: scenario.waves(),
            current: scenario.current(),
            boat_speed_mps: scenario.boat.speed_through_water_mps,
            heading_rad: scenario.boat.heading_deg_true.to_radians(),
            kite_line_m: scenario.kite_line.out_m,
            main_line_m: scenario.main_line.out_m,
            turns: scenario
                .boat
                .turn
                .iter()
                .map(|turn| ScriptTurn {
                    start_s: turn.start_s,
                    by_rad: turn.by_deg.to_radians(),
                    rate_rad_s: turn.rate_deg_s.to_radians(),
                    yaw_time_s: turn.yaw_time_constant_s,
                    announced_s: None,
                })
                .collect(),
            ..Self::straight(Millis(0), scenario.rig_parameters(), scenario.duration_s)
        }
    }
}
