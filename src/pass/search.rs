//! The coarse search: courses whose bait line leads over the mark, by plane geometry.
//! In: the moment, and how the typical rig hangs on each heading. Out: courses worth flying, the
//! soonest first. Knows no motion of the rig: a bait that has settled follows its boat.

use super::course::{Course, Leg, LineOrder};
use super::fly::boat_track;
use super::settled::Settled;
use super::situation::{Boat, Flat, Situation};
use crate::angles::wrap_signed;

/// Longest way to a mark, s: of 26 passes further off 14 were kept, where 19 were promised.
pub const LONGEST_S: f64 = 500.0;
/// The rig needs so long after a turn until the bait follows and skips, s.
const SETTLES_S: f64 = 28.0;
/// Alterations smaller than this are none, radians.
const LEAST_RAD: f64 = 0.035;
/// Rate where the limits give none to a side: none is good enough for the bait all the way, but at the
/// mark it can skip again.
const SLOW_RAD_S: f64 = 0.0175;
/// Nobody turns faster for a pass, rad/s.
const FASTEST_RAD_S: f64 = 0.053;
/// A second turn must gain so much time, s; each metre of line and each degree counts, too (own
/// judgement of what a crew would rather do).
const SECOND_TURN_S: f64 = 20.0;
const PER_METRE_S: f64 = 0.5;
const PER_DEGREE_S: f64 = 0.25;
/// So does each metre by which the bait hangs astern rather than abeam: astern it swings across its way
/// with every veer, abeam along it.
const PER_ASTERN_M_S: f64 = 0.5;
/// Last turns looked at to either side.
const STEPS: i32 = 72;
/// A line shorter than this is not moved, m.
const LEAST_MOVED_M: f64 = 1.0;

/// Which courses are looked at, and how far those worth flying are apart.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grid {
    /// Begin of a single turn after the lead, s.
    begins_s: &'static [f64],
    /// First turns of two, degrees to either side, and how long the boat then holds its heading, s.
    first_deg: &'static [f64],
    holds_s: &'static [f64],
    /// A course is worth flying when its bait line leads so near to the mark, m.
    aimed_m: f64,
    /// Final headings of two of them differ by more than this, radians.
    apart_rad: f64,
    /// Or the times at which the bait is at the mark, s.
    apart_s: f64,
}

impl Grid {
    /// One course for each heading.
    pub const COARSE: Self = Self {
        begins_s: &[0.0, 10.0, 20.0, 40.0, 70.0, 110.0, 170.0],
        first_deg: &[20.0, 40.0, 60.0, 90.0, 120.0],
        holds_s: &[10.0, 30.0, 60.0, 100.0, 160.0, 240.0],
        aimed_m: 10.0,
        apart_rad: 0.26,
        apart_s: f64::INFINITY,
    };
    /// Several for each heading, and those at the edge of the headings that can be fished, which a coarse
    /// grid steps over.
    pub const FINE: Self = Self {
        begins_s: &[
            0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 95.0, 110.0, 125.0, 145.0, 165.0,
            190.0, 220.0,
        ],
        first_deg: &[15.0, 30.0, 45.0, 60.0, 75.0, 90.0, 105.0, 120.0],
        holds_s: &[
            10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 75.0, 90.0, 110.0, 130.0, 160.0, 200.0, 240.0,
        ],
        aimed_m: 20.0,
        apart_rad: 0.26,
        apart_s: 60.0,
    };
}

/// A course worth flying.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub course: Course,
    /// When the bait is at the mark, s from now.
    pub at_s: f64,
    /// That, and what a crew would rather not do.
    pub cost_s: f64,
}

/// The rate for such a turn.
pub(super) fn rate_rad_s(sit: &Situation<'_>, by_rad: f64) -> f64 {
    let limit = limit_rad_s(sit, by_rad).unwrap_or(SLOW_RAD_S);
    limit.min(FASTEST_RAD_S)
}

/// The turn limit to the side of such a turn; `None` where no rate is good.
pub(super) fn limit_rad_s(sit: &Situation<'_>, by_rad: f64) -> Option<f64> {
    sit.bounds.rate_rad_s[usize::from(by_rad > 0.0)]
}

/// Where the boat is after a turn of its own from a place, with the time that takes.
fn turned(
    at_m: Flat,
    heading_rad: f64,
    by_rad: f64,
    rate: f64,
    boat: &Boat,
    v: f64,
) -> (Flat, f64) {
    let over_s = by_rad.abs() / rate;
    let signed = rate.copysign(by_rad);
    let after = heading_rad + by_rad;
    let r = v / signed;
    (
        [
            at_m[0] + r * (heading_rad.cos() - after.cos()) + boat.current_mps[0] * over_s,
            at_m[1] + r * (after.sin() - heading_rad.sin()) + boat.current_mps[1] * over_s,
        ],
        over_s,
    )
}

fn straight(at_m: Flat, heading_rad: f64, v: f64, boat: &Boat, over_s: f64) -> Flat {
    [
        at_m[0] + (v * heading_rad.sin() + boat.current_mps[0]) * over_s,
        at_m[1] + (v * heading_rad.cos() + boat.current_mps[1]) * over_s,
    ]
}

/// Where the last turn begins.
#[derive(Clone, Copy)]
struct Start {
    at_m: Flat,
    heading_rad: f64,
    t_s: f64,
}

/// The mark from the bait's line after a last turn: across (+ to starboard) and the time to it.
struct Beside {
    cross_m: f64,
    at_s: f64,
    end_s: f64,
    by_m: f64,
    astern_m: f64,
    /// Whether the bait has time to settle before, and it does not take too long.
    in_time: bool,
}

fn beside(
    sit: &Situation<'_>,
    settled: &Settled,
    start: Start,
    by_rad: f64,
    v: f64,
) -> Option<Beside> {
    let boat = &sit.boat;
    let lag = boat.yaw_time_constant_s;
    let (at_m, end_s) = if by_rad.abs() < 1e-6 {
        (start.at_m, start.t_s)
    } else {
        let rate = rate_rad_s(sit, by_rad);
        let late = straight(start.at_m, start.heading_rad, v, boat, lag);
        let (at_m, over_s) = turned(late, start.heading_rad, by_rad, rate, boat, v);
        (at_m, start.t_s + lag + over_s)
    };
    let heading_rad = start.heading_rad + by_rad;
    let hangs = settled.on(heading_rad).ok()?;
    let (s, c) = heading_rad.sin_cos();
    let [aft, starboard] = hangs.bait_m;
    let bait = [
        at_m[0] - aft * s + starboard * c,
        at_m[1] - aft * c - starboard * s,
    ];
    let target = &sit.target;
    let mark = target.at_m(end_s);
    let d = [mark[0] - bait[0], mark[1] - bait[1]];
    let w = [
        v * s + boat.current_mps[0] - target.drift_mps[0],
        v * c + boat.current_mps[1] - target.drift_mps[1],
    ];
    let speed = w[0].hypot(w[1]);
    if speed < 0.3 {
        return None;
    }
    let along = (d[0] * w[0] + d[1] * w[1]) / speed;
    let at_s = end_s + along / speed;
    let hands = &sit.hands;
    let moves_s = hands.pace_m_per_s(crate::decode::Line::Main, hangs.by_m);
    let trimmed_s = end_s.max(start.t_s + hangs.by_m.abs() / moves_s.max(0.05));
    let in_time = at_s >= trimmed_s + SETTLES_S && at_s <= LONGEST_S;
    Some(Beside {
        cross_m: (d[0] * w[1] - d[1] * w[0]) / speed,
        at_s,
        end_s,
        by_m: hangs.by_m,
        astern_m: aft,
        in_time,
    })
}

/// Courses worth flying, the best first.
pub(super) fn candidates(
    sit: &Situation<'_>,
    settled: &Settled,
    speed_mps: f64,
    most: usize,
    grid: Grid,
) -> Vec<Candidate> {
    let boat = &sit.boat;
    let v = speed_mps;
    let lead_s = sit.lead_s;
    let mut found: Vec<Candidate> = Vec::new();
    let here = |t_s: f64| Start {
        at_m: straight([0.0; 2], boat.heading_rad, v, boat, t_s),
        heading_rad: boat.heading_rad,
        t_s,
    };
    for begins_s in grid.begins_s {
        let start = here(lead_s + begins_s);
        last_turns(sit, settled, start, v, grid.aimed_m, None, &mut found);
    }
    let first_start = here(lead_s);
    let both_sides = (grid.first_deg.iter()).flat_map(|by_deg| [-by_deg, *by_deg]);
    for by_deg in both_sides {
        let by_rad = by_deg.to_radians();
        let rate = rate_rad_s(sit, by_rad);
        if settled.on(boat.heading_rad + by_rad).is_err() {
            continue;
        }
        let lag = boat.yaw_time_constant_s;
        let late = straight(first_start.at_m, first_start.heading_rad, v, boat, lag);
        let (at_m, over_s) = turned(late, boat.heading_rad, by_rad, rate, boat, v);
        let first = Leg {
            start_s: lead_s,
            by_rad,
            rate_rad_s: rate,
        };
        for &holds_s in grid.holds_s {
            let start = Start {
                at_m: straight(at_m, boat.heading_rad + by_rad, v, boat, holds_s),
                heading_rad: boat.heading_rad + by_rad,
                t_s: lead_s + lag + over_s + holds_s,
            };
            last_turns(
                sit,
                settled,
                start,
                v,
                grid.aimed_m,
                Some(first),
                &mut found,
            );
        }
    }
    found.sort_by(|a, b| a.cost_s.total_cmp(&b.cost_s));
    let mut kept: Vec<Candidate> = Vec::new();
    for one in found {
        let heading = one.course.final_heading_rad(boat);
        let same = |other: &Candidate| {
            wrap_signed(other.course.final_heading_rad(boat) - heading).abs() < grid.apart_rad
                && (other.at_s - one.at_s).abs() < grid.apart_s
                && (other.course.legs.len() == one.course.legs.len() || other.cost_s < one.cost_s)
        };
        if kept.iter().any(same) || !keeps_off(sit, &one) {
            continue;
        }
        kept.push(one);
        if kept.len() >= most {
            break;
        }
    }
    kept
}

/// Every last turn from here after which the bait's line leads over the mark.
fn last_turns(
    sit: &Situation<'_>,
    settled: &Settled,
    start: Start,
    v: f64,
    aimed_m: f64,
    first: Option<Leg>,
    found: &mut Vec<Candidate>,
) {
    let at = |by_rad: f64| beside(sit, settled, start, by_rad, v);
    let mut keep = |by_rad: f64, there: &Beside| {
        if there.cross_m.abs() < aimed_m && there.in_time {
            found.push(candidate(sit, start, by_rad, there, v, first));
        }
    };
    let mut before: Option<(f64, Beside)> = None;
    for i in -STEPS..=STEPS {
        let by_rad = f64::from(i) * std::f64::consts::PI / f64::from(STEPS);
        let now = at(by_rad);
        match (&before, &now) {
            (Some((a_rad, a)), Some(b)) if a.cross_m * b.cross_m <= 0.0 => {
                let (mut low, mut high) = (*a_rad, by_rad);
                for _ in 0..8 {
                    let middle = 0.5 * (low + high);
                    match at(middle) {
                        Some(m) if m.cross_m * a.cross_m > 0.0 => low = middle,
                        Some(_) => high = middle,
                        None => break,
                    }
                }
                let root = 0.5 * (low + high);
                if let Some(there) = at(root) {
                    keep(root, &there);
                }
            }
            // Where the headings that can be fished begin and end.
            (None, Some(edge)) => keep(by_rad, edge),
            (Some((edge_rad, edge)), None) => keep(*edge_rad, edge),
            _ => {}
        }
        before = now.map(|now| (by_rad, now));
    }
}

fn candidate(
    sit: &Situation<'_>,
    start: Start,
    by_rad: f64,
    there: &Beside,
    v: f64,
    first: Option<Leg>,
) -> Candidate {
    let mut legs: Vec<Leg> = first.into_iter().collect();
    let turns = by_rad.abs() >= LEAST_RAD;
    if turns {
        legs.push(Leg {
            start_s: start.t_s,
            by_rad,
            rate_rad_s: rate_rad_s(sit, by_rad),
        });
    }
    let degrees: f64 = legs.iter().map(|leg| leg.by_rad.abs().to_degrees()).sum();
    let second_s = if legs.len() > 1 { SECOND_TURN_S } else { 0.0 };
    // Not before the turn that needs it, and no faster than it.
    let lines = line_order(sit, there.by_m, start.t_s, there.end_s - start.t_s);
    Candidate {
        at_s: there.at_s,
        cost_s: there.at_s
            + second_s
            + PER_DEGREE_S * degrees
            + PER_ASTERN_M_S * there.astern_m.abs()
            + PER_METRE_S * lines.map_or(0.0, |order| order.by_m.abs()),
        course: Course {
            legs,
            speed_mps: v,
            lines: lines.into_iter().collect(),
        },
    }
}

/// Main line to move with a turn; `None` when it is hardly any.
pub(super) fn line_order(
    sit: &Situation<'_>,
    by_m: f64,
    start_s: f64,
    turn_s: f64,
) -> Option<LineOrder> {
    let pace = sit
        .hands
        .pace_m_per_s(crate::decode::Line::Main, by_m)
        .max(0.05);
    (by_m.abs() >= LEAST_MOVED_M).then(|| LineOrder {
        by_m,
        in_s: start_s,
        over_s: (by_m.abs() / pace).max(0.8 * turn_s).max(1.0),
    })
}

/// Whether boat and bait keep clear of other marks.
fn keeps_off(sit: &Situation<'_>, one: &Candidate) -> bool {
    let off_m = sit.bounds.keep_off_m;
    if off_m <= 0.0 || sit.bounds.others.is_empty() {
        return true;
    }
    let points = boat_track(&sit.boat, &one.course, one.at_s);
    sit.bounds.others.iter().all(|other| {
        points.iter().enumerate().all(|(t_s, point)| {
            let mark = other.at_m(t_s as f64);
            (point.at_m[0] - mark[0]).hypot(point.at_m[1] - mark[1]) >= off_m
        })
    })
}
