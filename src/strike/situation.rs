//! The moment that the kite comes home in.
//! In and out: everything the heading depends on.

use super::winder::Winder;
use crate::angles::wrap_signed;
use crate::rig::{Conditions, Current, Rig, Structure, Wind};

/// The moment: everything the heading depends on.
#[derive(Debug, Clone)]
pub struct Situation<'a> {
    /// The rig.
    pub rig: &'a Rig,
    /// What lines must not touch.
    pub structures: &'a [Structure],
    /// True wind, mean.
    pub wind: Wind,
    /// Its gusts at 10 m, m/s.
    pub gust_mps: f64,
    /// Boat through the water, m/s.
    pub boat_speed_mps: f64,
    /// Heading now, radians true.
    pub heading_rad: f64,
    /// Kite line out, m.
    pub kite_line_out_m: f64,
    /// Bearing of the fish, radians true: as far as a turn is concerned it stays there. `None`
    /// without a fish.
    pub fish_bearing_rad: Option<f64>,
    /// Who winds.
    pub winder: Winder,
}

impl Situation<'_> {
    /// The boat on this heading with so much kite line out.
    #[must_use]
    pub fn conditions(&self, heading_rad: f64, kite_line_out_m: f64) -> Conditions {
        Conditions {
            wind: self.wind,
            current: Current::default(),
            boat_speed_mps: self.boat_speed_mps,
            heading_rad,
            kite_line_out_m,
        }
    }

    /// Bearing of the fish off the bow on this heading, radians.
    #[must_use]
    pub fn fish_off_bow_rad(&self, heading_rad: f64) -> Option<f64> {
        self.fish_bearing_rad
            .map(|bearing_rad| wrap_signed(bearing_rad - heading_rad))
    }
}
