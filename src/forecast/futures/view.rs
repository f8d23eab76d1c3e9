//! The rig as it is drawn.

use crate::forecast::shape::{RigView, ViewPoint};
use crate::rig::Sample;

fn point(place: [f64; 3]) -> ViewPoint {
    ViewPoint {
        aft_m: place[0],
        starboard_m: place[1],
        up_m: place[2],
    }
}

/// The drawing of one sample.
pub fn view(in_s: f64, sample: &Sample) -> RigView {
    RigView {
        in_s,
        heading_deg_true: sample.heading_rad.to_degrees().rem_euclid(360.0),
        wind_from_bow_deg: sample.apparent_wind_at_kite_from_bow_rad.to_degrees(),
        kite_line: sample.shape.kite_line().map(point).collect(),
        main_line: sample.shape.main_line().map(point).collect(),
        clip: point(sample.shape.clip()),
        marker: point(sample.shape.marker()),
        immersion: sample.immersion,
    }
}
