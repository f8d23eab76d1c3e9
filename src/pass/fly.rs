//! Flies one rig along a course in the whole model.
//! In: a rig as it hangs, the boat's track, wind. Out: how near the bait comes to the mark, when, and
//! whether it skips then.

use super::course::{Course, Helm, Point, TRACK_S, track};
use super::situation::{Boat, Flat, Situation};
use crate::forecast::{LIKELY_STEP_S, Likely};
use crate::rig::{
    Accuracy, BoatMotion, LineLengths, Rig, Run, Sample, State, Structure, Timeline, Wind,
};

/// The bait must skip for this long before it is at the mark, s.
pub const SKIPS_FOR_S: f64 = 20.0;
/// In this share of that time.
pub const SKIPS_SHARE: f64 = 0.8;
/// What happens longer before the pass than this is seen, and the course corrected for it, s.
pub const SURPRISES_S: f64 = 60.0;
/// A flight is followed so long after the bait should be there, s.
const AFTER_S: f64 = 40.0;
/// A rig has settled so long after a turn or a move of line, s; and it is flown again so long before.
const SETTLES_S: f64 = 60.0;
const LEAD_IN_S: f64 = 5.0;
/// Beyond the closest place by so much, and for so long, the bait has passed.
const PASSED_M: f64 = 25.0;
const PASSED_S: f64 = 12.0;

/// How one rig passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flown {
    /// Closest approach of the bait to the mark, m.
    pub miss_m: f64,
    /// The same with a sign: + where the mark lies to starboard of the bait's way.
    pub cross_m: f64,
    /// When, s from now.
    pub at_s: f64,
    /// Share of the last [`SKIPS_FOR_S`] in which the bait skips.
    pub skipping: f64,
    /// How far the bait hangs above the middle of its band (+) or below it (-), as a mean of those
    /// seconds: immersion wanted less immersion, 1 when it flies.
    pub high: f64,
    /// A line comes nearer to a structure than its clearance.
    pub foul: bool,
    /// The kite comes down, or the model gives up, before it is there.
    pub ended: bool,
}

impl Flown {
    /// Whether the bait skips as it is to.
    #[must_use]
    pub fn skips(&self) -> bool {
        self.skipping >= SKIPS_SHARE && !self.foul && !self.ended
    }
}

/// Boat, air and hands.
struct Air<'a> {
    points: &'a [Point],
    winds: &'a [Wind],
    mean: Wind,
    gusts_from_s: f64,
    lines: LineLengths,
    course: &'a Course,
    quiet: Quiet,
}

/// Stretches of time in which nothing changes: a rig that has settled there stays as it is, and they are
/// left out. The model's time goes on without them.
#[derive(Debug, Clone, Copy)]
struct Quiet {
    /// From, to; the first before the turns, the second after them.
    stretches: [(f64, f64); 2],
}

impl Quiet {
    fn of(course: &Course, gusts_from_s: f64) -> Self {
        let ends = course.lines.iter().map(|order| order.in_s + order.over_s);
        let begins = (course.legs.iter().map(|leg| leg.start_s))
            .chain(course.lines.iter().map(|order| order.in_s))
            .fold(gusts_from_s, f64::min);
        let steady_s = ends.fold(course.steady_from_s(), f64::max);
        let between = |from_s: f64, to_s: f64| (from_s, to_s.max(from_s));
        let before = between(SETTLES_S, begins - LEAD_IN_S);
        let after = between((steady_s + SETTLES_S).max(before.1), gusts_from_s);
        Self {
            stretches: [before, after],
        }
    }

    /// The model's time at a moment.
    fn model_s(&self, t_s: f64) -> f64 {
        self.stretches.iter().fold(t_s, |model_s, (from, to)| {
            model_s - (t_s.min(*to) - from).max(0.0)
        })
    }

    /// The moment at that time of the model.
    fn moment_s(&self, model_s: f64) -> f64 {
        self.stretches.iter().fold(
            model_s,
            |t_s, (from, to)| {
                if t_s > *from { t_s + to - from } else { t_s }
            },
        )
    }

    fn holds(&self, t_s: f64) -> bool {
        self.stretches
            .iter()
            .any(|(from, to)| t_s > *from && t_s < *to)
    }
}

impl Timeline for Air<'_> {
    fn boat(&self, model_s: f64) -> BoatMotion {
        let t_s = self.quiet.moment_s(model_s);
        let x = (t_s / TRACK_S).max(0.0);
        let i = (x as usize).min(self.points.len().saturating_sub(2));
        let (Some(a), Some(b)) = (self.points.get(i), self.points.get(i + 1)) else {
            return BoatMotion {
                heading_rad: f64::NAN,
                yaw_rate_rad_s: 0.0,
                speed_mps: 0.0,
            };
        };
        let share = (x - i as f64).clamp(0.0, 1.0);
        let mix = |a: f64, b: f64| a + share * (b - a);
        BoatMotion {
            heading_rad: mix(a.heading_rad, b.heading_rad),
            yaw_rate_rad_s: mix(a.rate_rad_s, b.rate_rad_s),
            speed_mps: mix(a.speed_mps, b.speed_mps),
        }
    }

    fn wind(&self, model_s: f64) -> Wind {
        let x = (self.quiet.moment_s(model_s) - self.gusts_from_s) / LIKELY_STEP_S;
        if x < 0.0 {
            return self.mean;
        }
        let i = (x as usize).min(self.winds.len().saturating_sub(2));
        let (Some(a), Some(b)) = (self.winds.get(i), self.winds.get(i + 1)) else {
            return self.mean;
        };
        let share = (x - i as f64).clamp(0.0, 1.0);
        Wind {
            speed_10m_mps: a.speed_10m_mps + share * (b.speed_10m_mps - a.speed_10m_mps),
            from_rad: a.from_rad + share * (b.from_rad - a.from_rad),
            shear_exponent: a.shear_exponent,
        }
    }

    fn lines(&self, model_s: f64) -> LineLengths {
        let t_s = self.quiet.moment_s(model_s);
        let moved: f64 = self
            .course
            .lines
            .iter()
            .map(|order| order.done_m(t_s))
            .sum();
        LineLengths {
            main_m: self.lines.main_m + moved,
            ..self.lines
        }
    }
}

/// The bait over the ground, from where the boat is now.
fn bait_m(sample: &Sample, point: &Point) -> Flat {
    let [aft, starboard, _] = sample.shape.bait();
    let (s, c) = sample.heading_rad.sin_cos();
    [
        point.at_m[0] - aft * s + starboard * c,
        point.at_m[1] - aft * c - starboard * s,
    ]
}

/// Whether a line is nearer to a structure than its clearance.
fn fouls(structures: &[Structure], sample: &Sample) -> bool {
    structures.iter().any(|structure| {
        let [kite, main] = structure.gaps_m(&sample.shape);
        kite.min(main) < structure.clearance_m
    })
}

/// Flies a likely rig along a course on which its bait should be at the mark at about `about_s`. Gusts
/// and wander begin [`SURPRISES_S`] before: what happens earlier is seen, and the course corrected for
/// it.
pub(super) fn fly(sit: &Situation<'_>, likely: &Likely, course: &Course, about_s: f64) -> Flown {
    let surprises_from_s = (about_s - SURPRISES_S).max(0.0);
    let surprised = course.steady_from_s() >= surprises_from_s;
    let [late_z, rate_z] = likely.helm_z;
    let helm = Helm {
        ways: &likely.ways,
        step_s: LIKELY_STEP_S,
        from_s: surprises_from_s,
        late_s: if surprised { LATE_SD_S * late_z } else { 0.0 },
        rate_share: if surprised {
            (RATE_SD * rate_z).exp()
        } else {
            1.0
        },
        loss: likely.loss,
    };
    let points = track(&sit.boat, course, &helm, about_s + AFTER_S);
    let air = Air {
        points: &points,
        winds: &likely.winds,
        mean: likely.mean,
        gusts_from_s: surprises_from_s,
        lines: likely.lines,
        course,
        quiet: Quiet::of(course, surprises_from_s),
    };
    passing(sit, &likely.rig, likely.state.clone(), air, about_s)
}

/// Standard deviations of how late a helm begins a turn, s, and of its rate, as a share.
const LATE_SD_S: f64 = 1.5;
const RATE_SD: f64 = 0.15;

fn passing(sit: &Situation<'_>, rig: &Rig, state: State, air: Air<'_>, about_s: f64) -> Flown {
    let (points, course, quiet) = (air.points, air.course, air.quiet);
    let from_s = course.legs.last().map_or(0.0, |leg| leg.start_s);
    let mut run = Run::with_accuracy(rig, air, state, 0.0, Accuracy::COARSE);
    let mut skips: Vec<(bool, f64)> = Vec::with_capacity(points.len());
    let mut best = Flown {
        miss_m: f64::INFINITY,
        cross_m: 0.0,
        at_s: 0.0,
        skipping: 0.0,
        high: 0.0,
        foul: false,
        ended: false,
    };
    let mut before: Option<Flat> = None;
    let (mut foul, mut best_i) = (false, 0);
    let mut settled: Option<Sample> = None;
    for (i, point) in points.iter().enumerate() {
        let t_s = i as f64 * TRACK_S;
        let advanced = match settled.take().filter(|_| quiet.holds(t_s)) {
            Some(sample) => Ok(sample),
            None => run.advance_to(quiet.model_s(t_s)),
        };
        let Ok(sample) = advanced else {
            // What would have been close is not known: the last known place stands.
            best.ended = t_s < best.at_s.max(about_s) + PASSED_S;
            break;
        };
        let skipping = sample.immersion > 0.0 && sample.immersion < sit.dragging_immersion;
        let high = if sample.immersion > 0.0 {
            sit.trim_immersion - sample.immersion
        } else {
            1.0
        };
        skips.push((skipping, high));
        foul |= fouls(sit.bounds.structures, &sample);
        let [bait, mark] = [bait_m(&sample, point), sit.target.at_m(t_s)];
        settled = Some(sample);
        let d = [bait[0] - mark[0], bait[1] - mark[1]];
        if let Some(last) = before
            && t_s >= from_s
        {
            let (miss_m, share, cross_m) = closest(last, d);
            if miss_m < best.miss_m {
                best.miss_m = miss_m;
                best.cross_m = cross_m;
                best.at_s = t_s - TRACK_S * (1.0 - share);
                best.foul = foul;
                best_i = i;
            }
            let gone = d[0].hypot(d[1]) > best.miss_m + PASSED_M
                && t_s > best.at_s.max(about_s) + PASSED_S;
            if gone {
                break;
            }
        }
        before = Some(d);
    }
    let last = skips.len().min(best_i + 1);
    let window = (SKIPS_FOR_S / TRACK_S) as usize + 1;
    let seen = &skips[last.saturating_sub(window)..last];
    let count = seen.len().max(1) as f64;
    best.skipping = seen.iter().filter(|(skips, _)| *skips).count() as f64 / count;
    best.high = seen.iter().map(|(_, high)| high).sum::<f64>() / count;
    best
}

/// Closest place to the origin on the way from `a` to `b`: distance, share of the way, and the
/// distance with its sign, + where the origin lies to starboard.
fn closest(a: Flat, b: Flat) -> (f64, f64, f64) {
    let w = [b[0] - a[0], b[1] - a[1]];
    let square = w[0] * w[0] + w[1] * w[1];
    let share = if square > 1e-12 {
        (-(a[0] * w[0] + a[1] * w[1]) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let p = [a[0] + share * w[0], a[1] + share * w[1]];
    let miss = p[0].hypot(p[1]);
    // To starboard of a way (sin h, cos h) lies (cos h, -sin h); the origin is at -p.
    let side = -(p[0] * w[1] - p[1] * w[0]);
    (miss, share, miss.copysign(side))
}

/// The boat's place over the ground along a course that is kept exactly.
pub(super) fn boat_track(boat: &Boat, course: &Course, until_s: f64) -> Vec<Point> {
    track(boat, course, &Helm::exact(0.0), until_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quiet_stretches_are_left_out_and_found_again() {
        let quiet = Quiet {
            stretches: [(60.0, 100.0), (200.0, 300.0)],
        };
        for (t_s, model_s) in [
            (30.0, 30.0),
            (100.0, 60.0),
            (150.0, 110.0),
            (300.0, 160.0),
            (350.0, 210.0),
        ] {
            assert!((quiet.model_s(t_s) - model_s).abs() < 1e-9, "{t_s}");
        }
        for (model_s, t_s) in [(30.0, 30.0), (110.0, 150.0), (210.0, 350.0)] {
            assert!((quiet.moment_s(model_s) - t_s).abs() < 1e-9, "{model_s}");
        }
        assert!(quiet.holds(250.0) && !quiet.holds(150.0));
        assert!((quiet.model_s(250.0) - 160.0).abs() < 1e-9);
    }

    #[test]
    fn a_mark_to_starboard_of_the_way_counts_positive() {
        // Own arithmetic: the bait goes north past a mark 3 m east of its way.
        let (miss, share, cross) = closest([-3.0, -10.0], [-3.0, 10.0]);
        assert!((miss - 3.0).abs() < 1e-12 && (share - 0.5).abs() < 1e-12);
        assert!((cross - 3.0).abs() < 1e-12, "{cross}");
        assert!(closest([3.0, -10.0], [3.0, 10.0]).2 < 0.0);
    }
}
