//! A scenario played in time: its turn, wind, current and lines at any moment.

use super::air::{Current, Wind};
use super::conditions::{LineLengths, Timeline};
use super::hull::BoatMotion;
use super::scenario::{Scenario, ScenarioTurn};

impl ScenarioTurn {
    /// Angle turned and rate of turn at `t_s`, radians and radians a second: the closed form of
    /// a box of rate through a first-order lag.
    #[must_use]
    pub fn turned(&self, t_s: f64) -> (f64, f64) {
        let rate = self.rate_deg_s.to_radians().copysign(self.by_deg);
        let box_s = (self.by_deg / self.rate_deg_s).abs();
        let lag = self.yaw_time_constant_s;
        let ramp = |t: f64| -> (f64, f64) {
            if t <= 0.0 {
                (0.0, 0.0)
            } else if lag < 1e-6 {
                (rate * t, rate)
            } else {
                let decay = (-t / lag).exp();
                (rate * (t - lag * (1.0 - decay)), rate * (1.0 - decay))
            }
        };
        let t = t_s - self.start_s;
        let (a, ra) = ramp(t);
        let (b, rb) = ramp(t - box_s);
        (a - b, ra - rb)
    }
}

/// A scenario played in time with the given main line out.
#[derive(Debug, Clone, Copy)]
pub struct ScenarioTimeline<'a> {
    /// The scenario.
    pub scenario: &'a Scenario,
    /// Main line out, m.
    pub main_line_m: f64,
}

impl Timeline for ScenarioTimeline<'_> {
    fn boat(&self, t_s: f64) -> BoatMotion {
        let b = &self.scenario.boat;
        let (turned, rate) = b.turn.map_or((0.0, 0.0), |t| t.turned(t_s));
        BoatMotion {
            heading_rad: b.heading_deg_true.to_radians() + turned,
            yaw_rate_rad_s: rate,
            speed_mps: b.speed_through_water_mps,
        }
    }

    fn wind(&self, _t_s: f64) -> Wind {
        self.scenario.wind()
    }

    fn current(&self, _t_s: f64) -> Current {
        self.scenario.current()
    }

    fn lines(&self, _t_s: f64) -> LineLengths {
        LineLengths {
            kite_m: self.scenario.kite_line.out_m,
            main_m: self.main_line_m,
        }
    }
}
