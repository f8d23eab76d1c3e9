//! Where the bait was, from where the boat was. Pure.
//!
//! The boat's position is that of its GNSS antenna, the bait's is told from the transom: the metres
//! between those two are not known and left out. On the short way to the bait the earth is a sphere.

use super::rows::State;

/// Mean radius of the earth (IUGG, from memory), m.
const EARTH_M: f64 = 6_371_008.8;

/// A position, WGS 84.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
}

impl Place {
    /// Of the boat.
    #[must_use]
    pub fn of_boat(state: &State) -> Option<Self> {
        Some(Self {
            latitude_deg: state.latitude_deg?,
            longitude_deg: state.longitude_deg?,
        })
    }

    /// Of the bait, by the model.
    #[must_use]
    pub fn of_bait(state: &State) -> Option<Self> {
        let boat = Self::of_boat(state)?;
        let heading = state.heading_deg_true?.to_radians();
        let (astern_m, starboard_m) = (state.bait_astern_m?, state.bait_starboard_m?);
        let north_m = -astern_m * heading.cos() - starboard_m * heading.sin();
        let east_m = -astern_m * heading.sin() + starboard_m * heading.cos();
        let per_degree_m = EARTH_M.to_radians();
        let parallel = boat.latitude_deg.to_radians().cos().max(1e-6);
        Some(Self {
            latitude_deg: boat.latitude_deg + north_m / per_degree_m,
            longitude_deg: boat.longitude_deg + east_m / (per_degree_m * parallel),
        })
    }

    /// To a millionth of a degree, about 0.1 m.
    #[must_use]
    pub fn rounded(self) -> Self {
        let round = |deg: f64| (deg * 1e6).round() / 1e6;
        Self {
            latitude_deg: round(self.latitude_deg),
            longitude_deg: round(self.longitude_deg),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::rows::Doing;
    use super::*;
    use crate::time::Millis;

    #[test]
    fn the_bait_is_astern_of_the_boat_whichever_way_she_heads() {
        let state = |heading| State {
            at: Millis(0),
            latitude_deg: Some(60.0),
            longitude_deg: Some(10.0),
            heading_deg_true: Some(heading),
            rate_of_turn_deg_s: None,
            speed_water_mps: None,
            speed_ground_mps: None,
            course_deg_true: None,
            wind_at_sensor_mps: None,
            wind_from_deg_true: None,
            kite_line_m: None,
            main_line_m: None,
            doing: Doing::Fishing,
            bait: None,
            bait_told: None,
            kite_elevation_deg: None,
            kite_off_astern_deg: None,
            immersion: None,
            bait_astern_m: Some(100.0),
            bait_starboard_m: Some(0.0),
        };
        // A minute of latitude is a nautical mile, 1852 m; at 60 degrees one of longitude is half.
        let minute = |m: f64| m / 1852.0 / 60.0;
        for (heading, north_m, east_m) in
            [(0.0, -100.0, 0.0), (90.0, 0.0, -100.0), (180.0, 100.0, 0.0)]
        {
            let bait = Place::of_bait(&state(heading)).unwrap();
            let north = (bait.latitude_deg - 60.0, minute(north_m));
            let east = (bait.longitude_deg - 10.0, 2.0 * minute(east_m));
            assert!((north.0 - north.1).abs() < 2e-6, "{heading}: {north:?}");
            assert!((east.0 - east.1).abs() < 4e-6, "{heading}: {east:?}");
        }
        let starboard = State {
            bait_astern_m: Some(0.0),
            bait_starboard_m: Some(50.0),
            ..state(0.0)
        };
        assert!(Place::of_bait(&starboard).unwrap().longitude_deg > 10.0);
    }
}
