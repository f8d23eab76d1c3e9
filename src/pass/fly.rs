//! Flies one rig along a course in the whole model.
//! In: a rig as it hangs, the boat's track, wind. Out: how near the bait comes to the mark, when, and
//! whether it skips then.

use super::course::{Course, Helm, Point, TRACK_S, track};
use super::situation::{Boat, Flat, Situation};
use crate::forecast::{LIKELY_STEP_S, Likely};
use crate::rig::{
    Accuracy, BoatMotion, Conditions, Current, LineLengths, MainLine, Rig, Run, Sample, State,
    Steady, Structure, Timeline, Wind, settled_state,
};

/// The bait must skip for this long before it is at the mark, s.
pub const SKIPS_FOR_S: f64 = 20.0;
/// In this share of that time.
pub const SKIPS_SHARE: f64 = 0.8;
/// What happens longer before the pass than this is seen, and the course corrected for it, s.
pub const SURPRISES_S: f64 = 60.0;
/// A flight is followed so long after the bait should be there, s.
const AFTER_S: f64 = 40.0;
/// So long after a turn or a move of line a rig is followed; then, if nothing happens for a while, it is
/// taken as it hangs so long before the next thing.
const SETTLES_S: f64 = 15.0;
const LEAD_IN_S: f64 = 5.0;
const A_WHILE_S: f64 = 20.0;
/// Beyond the closest place by so much, and for so long, the bait has passed.
const PASSED_M: f64 = 10.0;
const PASSED_S: f64 = 4.0;

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
}

impl Air<'_> {
    /// The rig once it has settled there; `None` where it finds no balance.
    fn settled(&self, rig: &Rig, t_s: f64, hint: &State) -> Option<Steady> {
        let (boat, lines) = (self.boat(t_s), self.lines(t_s));
        let conditions = Conditions {
            wind: self.wind(t_s),
            current: Current::default(),
            boat_speed_mps: boat.speed_mps,
            heading_rad: boat.heading_rad,
            kite_line_out_m: lines.kite_m,
        };
        settled_state(rig, &conditions, MainLine::Out(lines.main_m), Some(hint)).ok()
    }
}

/// Stretches of time in which nothing changes, before the turns and after them, as from and to: a rig
/// settles there, and need not be followed.
fn quiet_stretches(course: &Course, gusts_from_s: f64) -> impl Iterator<Item = (f64, f64)> {
    let ends = course.lines.iter().map(|order| order.in_s + order.over_s);
    let begins_s = (course.legs.iter().map(|leg| leg.start_s))
        .chain(course.lines.iter().map(|order| order.in_s))
        .fold(gusts_from_s, f64::min);
    let steady_s = ends.fold(course.steady_from_s(), f64::max);
    let after_s = if steady_s > 0.0 {
        steady_s + SETTLES_S
    } else {
        0.0
    };
    let before = (0.0, begins_s - LEAD_IN_S);
    let after = (after_s.max(before.1), gusts_from_s - LEAD_IN_S);
    [before, after]
        .into_iter()
        .filter(|(from, to)| to - from > A_WHILE_S)
}

impl Timeline for Air<'_> {
    fn boat(&self, t_s: f64) -> BoatMotion {
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

    fn wind(&self, t_s: f64) -> Wind {
        let x = (t_s - self.gusts_from_s) / LIKELY_STEP_S;
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

    fn lines(&self, t_s: f64) -> LineLengths {
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
    };
    passing(sit, &likely.rig, likely.state.clone(), &air, about_s)
}

/// Standard deviations of how late a helm begins a turn, s, and of its rate, as a share.
const LATE_SD_S: f64 = 1.5;
const RATE_SD: f64 = 0.15;

fn passing(sit: &Situation<'_>, rig: &Rig, state: State, air: &Air<'_>, about_s: f64) -> Flown {
    let (points, course) = (air.points, air.course);
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
    let half_bait_m = 0.5 * rig.parameters().bait.height_m;
    let mut before: Option<Flat> = None;
    let (mut foul, mut best_i) = (false, 0);
    let mut quiet = quiet_stretches(course, air.gusts_from_s).peekable();
    // How it hangs, and until when.
    let mut hung: Option<(Sample, f64)> = None;
    for (i, point) in points.iter().enumerate() {
        let t_s = i as f64 * TRACK_S;
        if let Some((_, to_s)) = quiet.next_if(|(from_s, _)| t_s >= *from_s)
            && let Some(found) = air.settled(rig, to_s, &run.state())
        {
            run = Run::with_accuracy(rig, air, found.state, to_s, Accuracy::COARSE);
            hung = Some((found.sample, to_s));
        }
        hung = hung.filter(|(_, to_s)| t_s < *to_s);
        let advanced = match &hung {
            Some((sample, _)) => Ok(sample.clone()),
            None => run.advance_to(t_s),
        };
        let Ok(sample) = advanced else {
            // What would have been close is not known: the last known place stands.
            best.ended = t_s < best.at_s.max(about_s) + PASSED_S;
            break;
        };
        let clear_m = sample.bait_height_m - half_bait_m;
        let skipping = sit.skips.holds(sample.immersion, clear_m);
        let high = if sample.immersion > 0.0 {
            sit.rigs.trim_immersion - sample.immersion
        } else {
            1.0
        };
        skips.push((skipping, high));
        foul |= fouls(sit.bounds.structures, &sample);
        let [bait, mark] = [bait_m(&sample, point), sit.target.at_m(t_s)];
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
    use super::super::course::Leg;
    use super::*;

    #[test]
    fn nothing_happens_before_a_late_turn_and_long_after_an_early_one() {
        let course = |start_s: f64| Course {
            legs: vec![Leg {
                start_s,
                by_rad: 1.0,
                rate_rad_s: 0.1,
            }],
            speed_mps: 3.0,
            lines: Vec::new(),
        };
        let quiet = |start_s, gusts_from_s| {
            quiet_stretches(&course(start_s), gusts_from_s).collect::<Vec<_>>()
        };
        // Own arithmetic: the helm is over for 10 s.
        assert_eq!(quiet(100.0, 90.0), [(0.0, 85.0)]);
        assert_eq!(quiet(5.0, 200.0), [(30.0, 195.0)]);
        assert_eq!(quiet(60.0, 200.0), [(0.0, 55.0), (85.0, 195.0)]);
        assert!(quiet(10.0, 50.0).is_empty());
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
