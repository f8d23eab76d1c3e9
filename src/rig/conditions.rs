//! Boundary conditions of the rig: air, water, boat and line out, steady or over time.
//! In: numbers. Out: the world as the solver needs it. Knows no solver.

use serde::{Deserialize, Serialize};

use super::air::{AirField, Current, Profile, Wind};
use super::hull::{BoatMotion, Ride};
use super::parameters::{Gate, Rig, RigError, RodTip};
use super::shape::World;
use super::vector::{V3, ZERO};
use crate::units::LINE_OUT_MAX_M;

/// Settled surroundings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Conditions {
    /// True wind over the ground.
    pub wind: Wind,
    /// Current.
    #[serde(default)]
    pub current: Current,
    /// Speed through the water, m/s.
    pub boat_speed_mps: f64,
    /// Heading, radians true.
    pub heading_rad: f64,
    /// Kite line from rod tip to kite, m.
    pub kite_line_out_m: f64,
}

impl Conditions {
    /// Every number that makes no sense, with its allowed range.
    ///
    /// # Errors
    /// All complaints at once.
    pub fn check(&self, rig: &Rig) -> Result<(), Vec<RigError>> {
        let mut g = Gate::default();
        g.range("wind.speed_10m_mps", self.wind.speed_10m_mps, 0.0, 60.0);
        g.range("wind.from_rad", self.wind.from_rad, -100.0, 100.0);
        g.range("wind.shear_exponent", self.wind.shear_exponent, 0.0, 0.6);
        g.range("current.set_rad", self.current.set_rad, -100.0, 100.0);
        g.range("current.drift_mps", self.current.drift_mps, 0.0, 8.0);
        g.range("boat_speed_mps", self.boat_speed_mps, 0.0, 25.0);
        g.range("heading_rad", self.heading_rad, -1e4, 1e4);
        g.range(
            "kite_line_out_m",
            self.kite_line_out_m,
            rig.parameters().kite_line.clip_to_kite_m + 2.0,
            // Drawn futures may have more line out than a report may state.
            2.0 * LINE_OUT_MAX_M,
        );
        if g.errors.is_empty() {
            Ok(())
        } else {
            Err(g.errors)
        }
    }
}

/// How much of each line is really out at one moment; what the crew counts may differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineLengths {
    /// Kite line, rod tip to kite, m.
    pub kite_m: f64,
    /// Main line, rod tip to bait, m.
    pub main_m: f64,
}

/// Motion of boat and air and the line out, as pure functions of time. They must be continuous but
/// need not be smooth; the step control follows them.
pub trait Timeline {
    /// Heading, rate of turn and speed through the water.
    fn boat(&self, t_s: f64) -> BoatMotion;
    /// True wind over the ground.
    fn wind(&self, t_s: f64) -> Wind;
    /// Current; none unless said.
    fn current(&self, _t_s: f64) -> Current {
        Current::default()
    }
    /// Line out.
    fn lines(&self, t_s: f64) -> LineLengths;
    /// The boat's way through a seaway; none on flat water.
    fn ride(&self) -> Option<&Ride> {
        None
    }
}

impl<T: Timeline + ?Sized> Timeline for &T {
    fn boat(&self, t_s: f64) -> BoatMotion {
        (**self).boat(t_s)
    }
    fn wind(&self, t_s: f64) -> Wind {
        (**self).wind(t_s)
    }
    fn current(&self, t_s: f64) -> Current {
        (**self).current(t_s)
    }
    fn lines(&self, t_s: f64) -> LineLengths {
        (**self).lines(t_s)
    }
    fn ride(&self) -> Option<&Ride> {
        (**self).ride()
    }
}

/// Everything at one moment, before it is laid out for the solver.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Moment {
    pub(crate) boat: BoatMotion,
    pub(crate) wind: Wind,
    pub(crate) current: Current,
    pub(crate) lines: LineLengths,
}

impl Moment {
    pub(crate) fn settled(c: &Conditions, main_line_m: f64) -> Self {
        Self {
            boat: BoatMotion {
                heading_rad: c.heading_rad,
                yaw_rate_rad_s: 0.0,
                speed_mps: c.boat_speed_mps,
            },
            wind: c.wind,
            current: c.current,
            lines: LineLengths {
                kite_m: c.kite_line_out_m,
                main_m: main_line_m,
            },
        }
    }

    pub(crate) fn of<T: Timeline>(timeline: &T, t_s: f64) -> Self {
        Self {
            boat: timeline.boat(t_s),
            wind: timeline.wind(t_s),
            current: timeline.current(t_s),
            lines: timeline.lines(t_s),
        }
    }

    pub(crate) fn is_finite(&self) -> bool {
        [
            self.boat.heading_rad,
            self.boat.yaw_rate_rad_s,
            self.boat.speed_mps,
            self.wind.speed_10m_mps,
            self.wind.from_rad,
            self.wind.shear_exponent,
            self.current.set_rad,
            self.current.drift_mps,
            self.lines.kite_m,
            self.lines.main_m,
        ]
        .iter()
        .all(|v| v.is_finite())
    }

    /// Boat's velocity over the water.
    pub(crate) fn boat_velocity(&self) -> V3 {
        let (s, c) = self.boat.heading_rad.sin_cos();
        [self.boat.speed_mps * s, self.boat.speed_mps * c, 0.0]
    }

    pub(crate) fn world<'a>(&self, rig: &Rig, profile: &'a Profile) -> World<'a> {
        let (s, c) = self.boat.heading_rad.sin_cos();
        let tips = &rig.parameters().rod_tips;
        let place = |t: &RodTip| -> V3 {
            [
                -t.aft_m * s + t.starboard_m * c,
                -t.aft_m * c - t.starboard_m * s,
                t.height_m,
            ]
        };
        let moved = |t: &RodTip| -> V3 {
            let w = self.boat.yaw_rate_rad_s;
            if w == 0.0 {
                return ZERO;
            }
            [
                w * (-t.aft_m * c - t.starboard_m * s),
                w * (t.aft_m * s - t.starboard_m * c),
                0.0,
            ]
        };
        World {
            air: AirField {
                profile,
                wind_10m: self.wind.vector_10m_mps(),
                current: self.current.vector_mps(),
            },
            boat_velocity: self.boat_velocity(),
            tips: [place(&tips.kite), place(&tips.main)],
            tip_velocities: [moved(&tips.kite), moved(&tips.main)],
            kite_line_m: self.lines.kite_m,
            waters: &[],
        }
    }
}
