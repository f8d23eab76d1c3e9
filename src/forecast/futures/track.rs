//! Where the bait goes over the water, over the futures.

use super::chances::{Weighted, band};
use super::trace::TRACE_S;
use crate::forecast::shape::BaitAhead;
use crate::forecast::trouble::Band;

/// Interval of the points.
const TRACK_S: f64 = 6.0;
/// A bait that moves less between two points keeps the direction it had.
const STANDS_M: f64 = 0.5;

/// The bait's path with its bands, every [`TRACK_S`].
pub fn bait_ahead(futures: &[Weighted], horizon_s: f64) -> Vec<BaitAhead> {
    let step = (TRACK_S / TRACE_S).round() as usize;
    let count = (horizon_s / TRACK_S).floor() as usize + 1;
    let place = |k: usize| -> Option<[f64; 2]> {
        let of = |axis: usize| -> Vec<(f64, f64)> {
            let at = |f: &Weighted| f.trace.bait_m.get(k * step).map(|p| (p[axis], f.weight));
            futures.iter().filter_map(at).collect()
        };
        let (east, north) = (of(0), of(1));
        (!east.is_empty()).then(|| [band(east).p50, band(north).p50])
    };
    let middle: Vec<[f64; 2]> = (0..count).map_while(place).collect();
    let mut way = [0.0, 1.0];
    let mut track = Vec::with_capacity(middle.len());
    for (k, here) in middle.iter().enumerate() {
        let before = middle[k.saturating_sub(1)];
        let after = middle[(k + 1).min(middle.len() - 1)];
        let moved = [after[0] - before[0], after[1] - before[1]];
        let length_m = moved[0].hypot(moved[1]);
        if length_m > STANDS_M {
            way = [moved[0] / length_m, moved[1] / length_m];
        }
        let off = |f: &Weighted| -> Option<[f64; 2]> {
            let place = f.trace.bait_m.get(k * step)?;
            Some([place[0] - here[0], place[1] - here[1]])
        };
        let along_of = |axes: [f64; 2]| -> Band {
            let one = |f: &Weighted| off(f).map(|o| (o[0] * axes[0] + o[1] * axes[1], f.weight));
            band(futures.iter().filter_map(one).collect())
        };
        track.push(BaitAhead {
            in_s: k as f64 * TRACK_S,
            east_m: here[0],
            north_m: here[1],
            way_deg_true: way[0].atan2(way[1]).to_degrees().rem_euclid(360.0),
            across_m: along_of([way[1], -way[0]]),
            along_m: along_of(way),
        });
    }
    track
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forecast::futures::trace::Trace;

    /// Bait that goes east at so many metres a second, so far north.
    fn east(mps: f64, north_m: f64) -> Weighted {
        let mut trace = Trace::default();
        trace.bait_m = (0..=12).map(|t| [mps * f64::from(t), north_m]).collect();
        Weighted { weight: 1.0, trace }
    }

    #[test]
    fn the_band_lies_across_and_along_the_way() {
        let futures: Vec<Weighted> = (-5..=5)
            .map(|i| east(3.0 + 0.1 * f64::from(i), f64::from(i)))
            .collect();
        let track = bait_ahead(&futures, 12.0);
        assert_eq!(track.len(), 3);
        let last = &track[2];
        assert!((last.east_m - 36.0).abs() < 1e-9 && last.north_m.abs() < 1e-9);
        assert!((last.way_deg_true - 90.0).abs() < 1e-9);
        // Of eleven, the second and the tenth; north of an eastward way is to its left, negative.
        assert!((last.across_m.p10 + 4.0).abs() < 1e-9 && (last.across_m.p90 - 4.0).abs() < 1e-9);
        assert!((last.along_m.p90 - 12.0 * 0.4).abs() < 1e-9);
        assert!(bait_ahead(&[], 12.0).is_empty());
    }
}
