//! Distance of the lines to structures of the boat.
//! In: the lines in boat axes, a structure as a point or a straight bar. Out: the least distance of
//! each line. Knows no time; heel, pitch and roll are left out, as in the rig model.

use super::sample::LineShape;
use super::vector::{V3, add, norm, scale, sub};

/// A part of the boat that a line must not touch: a straight bar, or a point when both ends are
/// the same place.
#[derive(Debug, Clone, PartialEq)]
pub struct Structure {
    /// What the crew calls it.
    pub name: String,
    /// One end in boat axes: aft, starboard, height, m.
    pub from_m: [f64; 3],
    /// The other end.
    pub to_m: [f64; 3],
    /// Lines nearer than this foul it, m.
    pub clearance_m: f64,
}

impl Structure {
    /// Least distance of kite line and main line, m.
    #[must_use]
    pub fn gaps_m(&self, shape: &LineShape) -> [f64; 2] {
        [self.gap_m(shape.kite_line()), self.gap_m(shape.main_line())]
    }

    /// Distance of a point from it, m.
    #[must_use]
    pub fn distance_m(&self, place_m: [f64; 3]) -> f64 {
        between_m((place_m, place_m), (self.from_m, self.to_m))
    }

    /// Least distance of a line given by its nodes, m; infinite for none.
    #[must_use]
    pub fn gap_m(&self, line: impl Iterator<Item = [f64; 3]>) -> f64 {
        let bar = (self.from_m, self.to_m);
        let mut least = f64::INFINITY;
        let mut last = None;
        for node in line {
            let piece = (last.replace(node).unwrap_or(node), node);
            if !apart(piece, bar, least) {
                least = least.min(between_m(piece, bar));
            }
        }
        least
    }
}

/// Cheap rejection: whether the bounding boxes of two bars are at least `least` apart along one
/// axis. Most pieces of line are far astern and need no more.
fn apart(a: (V3, V3), b: (V3, V3), least: f64) -> bool {
    (0..3).any(|k| {
        a.0[k].min(a.1[k]) - b.0[k].max(b.1[k]) >= least
            || b.0[k].min(b.1[k]) - a.0[k].max(a.1[k]) >= least
    })
}

fn dot(a: V3, b: V3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Least distance between two straight bars (textbook method: the closest points of the two lines,
/// clamped to the bars one after the other).
fn between_m(a: (V3, V3), b: (V3, V3)) -> f64 {
    const NONE: f64 = 1e-12;
    let (along_a, along_b, gap) = (sub(a.1, a.0), sub(b.1, b.0), sub(a.0, b.0));
    let (aa, bb, ab) = (
        dot(along_a, along_a),
        dot(along_b, along_b),
        dot(along_a, along_b),
    );
    let (ag, bg) = (dot(along_a, gap), dot(along_b, gap));
    let within = |x: f64| x.clamp(0.0, 1.0);
    let (s, t) = if aa <= NONE {
        (0.0, if bb <= NONE { 0.0 } else { within(bg / bb) })
    } else if bb <= NONE {
        (within(-ag / aa), 0.0)
    } else {
        let square = aa * bb - ab * ab;
        // Parallel bars are as near from any point; the clamping below finds a right pair.
        let s = if square > NONE {
            within((ab * bg - ag * bb) / square)
        } else {
            0.0
        };
        let t = (ab * s + bg) / bb;
        if t < 0.0 {
            (within(-ag / aa), 0.0)
        } else if t > 1.0 {
            (within((ab - ag) / aa), 1.0)
        } else {
            (s, t)
        }
    };
    norm(sub(
        add(a.0, scale(along_a, s)),
        add(b.0, scale(along_b, t)),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn place() -> impl Strategy<Value = V3> {
        [-8.0..8.0, -8.0..8.0, -8.0..8.0]
    }

    #[test]
    fn bars_that_can_be_measured_by_hand() {
        // Own arithmetic.
        let bar = ([0.0, 0.0, 0.0], [4.0, 0.0, 0.0]);
        let crossing = ([2.0, -1.0, 3.0], [2.0, 1.0, 3.0]);
        let beyond = ([7.0, 4.0, 0.0], [7.0, 9.0, 0.0]);
        let beside = ([1.0, 2.0, 0.0], [9.0, 2.0, 0.0]);
        let point = ([2.0, 0.0, -1.5], [2.0, 0.0, -1.5]);
        for (other, expected) in [(crossing, 3.0), (beyond, 5.0), (beside, 2.0), (point, 1.5)] {
            assert!(
                (between_m(bar, other) - expected).abs() < 1e-12,
                "{other:?}"
            );
            assert!(
                (between_m(other, bar) - expected).abs() < 1e-12,
                "{other:?}"
            );
        }
    }

    proptest! {
        /// Against the least of many pairs of points: never more, and less only by what the
        /// points lie apart.
        #[test]
        fn no_pair_of_points_is_nearer(a in place(), b in place(), c in place(), d in place()) {
            let found = between_m((a, b), (c, d));
            let steps = 60;
            let mut least = f64::INFINITY;
            for i in 0..=steps {
                for j in 0..=steps {
                    let (s, t) = (f64::from(i) / f64::from(steps), f64::from(j) / f64::from(steps));
                    let p = add(a, scale(sub(b, a), s));
                    let q = add(c, scale(sub(d, c), t));
                    least = least.min(norm(sub(p, q)));
                }
            }
            let coarse = 0.5 * (norm(sub(b, a)) + norm(sub(d, c))) / f64::from(steps);
            prop_assert!(found <= least + 1e-9);
            prop_assert!(found >= least - coarse - 1e-9);
        }

        /// Leaving out what is apart changes nothing.
        #[test]
        fn what_is_left_out_is_never_the_nearest(
            nodes in prop::collection::vec(place(), 1..8), from in place(), to in place()
        ) {
            let bar = Structure { name: "bar".into(), from_m: from, to_m: to, clearance_m: 1.0 };
            let all = nodes
                .windows(2)
                .map(|w| between_m((w[0], w[1]), (from, to)))
                .chain(nodes.iter().map(|n| bar.distance_m(*n)))
                .fold(f64::INFINITY, f64::min);
            prop_assert!((bar.gap_m(nodes.iter().copied()) - all).abs() < 1e-9);
        }
    }
}
