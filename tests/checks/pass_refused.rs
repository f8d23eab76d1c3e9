//! Refused passes against a search of everything.
//!
//! `REFUSED=91,30 cargo test --test checks refusals_are_right -- --nocapture` looks at 30 refused moments
//! of seed 91. Every turn and every pair of turns on a grid, at four speeds and rates, whose bait line
//! leads over the mark is judged by all the rigs; no cost, no shortlist. A refusal is wrong when one
//! of them has a clearly better chance than what is offered at all.

use skimwatch::pass::{
    Course, Flat, LONGEST_S, Leg, LineOrder, MOST_DOWN, NEAR_M, OFFERED, Panel, Situation, judge,
    plan,
};
use skimwatch::rig::{Conditions, Current, MainLine, Wind, steady};

use crate::pass::seeds;
use crate::pass_world::{Seen, TRIM, Truth, invented, situation};

/// As the plan has it: own choices, no source.
const MOST_MOVED_M: f64 = 60.0;
const LULL: f64 = 0.8;
const FORWARD_DEG: f64 = 100.0;
const SETTLES_S: f64 = 28.0;
const LEAD_S: f64 = 12.0;
/// A course better than the least that is offered by so much makes a refusal wrong.
const CLEARLY: f64 = 0.1;
/// Courses judged in a moment at most, those first that need the least time.
const MOST_JUDGED: usize = 400;

/// Where the bait of the typical rig hangs on a heading, astern and to starboard, and the line to move.
type Hangs = Option<(f64, f64, f64)>;

/// Every two degrees.
fn table(seen: &Seen, speed_mps: f64) -> Vec<Hangs> {
    let typical = &seen.rigs.typical;
    let mut hint = None;
    (0..180)
        .map(|k| {
            let conditions = Conditions {
                wind: typical.mean,
                current: Current::default(),
                boat_speed_mps: speed_mps,
                heading_rad: f64::from(k).to_radians() * 2.0,
                kite_line_out_m: typical.lines.kite_m,
            };
            let main = MainLine::Immersion(TRIM);
            let found = steady(&typical.rig, &conditions, main, hint.as_ref()).ok()?;
            hint = Some(found.state.clone());
            let lull = Conditions {
                wind: Wind {
                    speed_10m_mps: LULL * typical.mean.speed_10m_mps,
                    ..typical.mean
                },
                ..conditions
            };
            let out = MainLine::Out(found.main_line_m);
            steady(&typical.rig, &lull, out, Some(&found.state)).ok()?;
            let off =
                std::f64::consts::PI - (found.sample.kite_azimuth_rad - conditions.heading_rad);
            let off_deg = skimwatch::angles::wrap_signed(off).to_degrees();
            let by_m = found.main_line_m - typical.lines.main_m;
            let [aft, starboard, _] = found.sample.shape.bait();
            (off_deg.abs() <= FORWARD_DEG && by_m.abs() <= MOST_MOVED_M)
                .then_some((aft, starboard, by_m))
        })
        .collect()
}

/// The boat by the second: simple steps of its way, independent of the plan's geometry.
struct Sailed {
    at_m: Flat,
    heading_rad: f64,
    t_s: f64,
}

fn sail(mut from: Sailed, until_s: f64, rate_rad_s: f64, v: f64, current: Flat) -> Sailed {
    const STEP_S: f64 = 0.5;
    while from.t_s < until_s {
        let dt = STEP_S.min(until_s - from.t_s);
        from.heading_rad += rate_rad_s * dt;
        from.at_m[0] += (v * from.heading_rad.sin() + current[0]) * dt;
        from.at_m[1] += (v * from.heading_rad.cos() + current[1]) * dt;
        from.t_s += dt;
    }
    from
}

fn on(hangs: &[Hangs], heading_rad: f64) -> Hangs {
    let heading = skimwatch::angles::wrap_positive(heading_rad);
    hangs[(heading.to_degrees() / 2.0) as usize % hangs.len()]
}

struct Found {
    course: Course,
    at_s: f64,
}

/// Every last turn from here whose bait line leads within 15 m of the mark.
fn last_turns(
    sit: &Situation<'_>,
    hangs: &[Hangs],
    from: &Sailed,
    first: Option<Leg>,
    (v, rate): (f64, f64),
    found: &mut Vec<Found>,
) {
    let current = sit.boat.current_mps;
    let lag_s = sit.boat.yaw_time_constant_s;
    for by_deg in -179..=180 {
        let by_rad = f64::from(by_deg).to_radians();
        let over_s = by_rad.abs() / rate;
        let begin = Sailed { ..*from };
        let begin = sail(begin, from.t_s + lag_s, 0.0, v, current);
        let end = sail(
            begin,
            from.t_s + lag_s + over_s,
            rate.copysign(by_rad),
            v,
            current,
        );
        let heading = end.heading_rad;
        let Some((aft, starboard, by_m)) = on(hangs, heading) else {
            continue;
        };
        let (s, c) = heading.sin_cos();
        let bait = [
            end.at_m[0] - aft * s + starboard * c,
            end.at_m[1] - aft * c - starboard * s,
        ];
        let mark = sit.target.at_m(end.t_s);
        let way = [v * s + current[0], v * c + current[1]];
        let d = [mark[0] - bait[0], mark[1] - bait[1]];
        let ground = way[0].hypot(way[1]).max(0.1);
        let cross_m = (d[0] * way[1] - d[1] * way[0]) / ground;
        let at_s = end.t_s + (d[0] * way[0] + d[1] * way[1]) / (ground * ground);
        let pace = sit
            .hands
            .pace_m_per_s(skimwatch::decode::Line::Main, by_m)
            .max(0.05);
        let order = LineOrder {
            by_m,
            in_s: from.t_s,
            over_s: (by_m.abs() / pace).max(0.8 * over_s).max(1.0),
        };
        let settled_s = end.t_s.max(order.in_s + order.over_s) + SETTLES_S;
        if cross_m.abs() > NEAR_M || at_s < settled_s || at_s > LONGEST_S {
            continue;
        }
        let mut legs: Vec<Leg> = first.into_iter().collect();
        if by_deg != 0 {
            legs.push(Leg {
                start_s: from.t_s,
                by_rad,
                rate_rad_s: rate,
            });
        }
        let lines = (by_m.abs() >= 1.0).then_some(order).into_iter().collect();
        let course = Course {
            legs,
            speed_mps: v,
            lines,
        };
        found.push(Found { course, at_s });
    }
}

/// The best chance of all courses.
pub fn best_of_all(truth: &Truth, seen: &Seen) -> f64 {
    let sit = at(truth, seen);
    let start = |t_s: f64, v: f64| {
        let boat = Sailed {
            at_m: [0.0; 2],
            heading_rad: truth.heading_rad,
            t_s: 0.0,
        };
        sail(boat, t_s, 0.0, v, sit.boat.current_mps)
    };
    let mut found = Vec::new();
    for (share, rate_deg_s) in [(1.0, 2.0f64), (1.25, 2.0), (0.8, 2.0), (1.0, 1.0)] {
        let (v, rate) = (share * truth.speed_mps, rate_deg_s.to_radians());
        let hangs = table(seen, v);
        for begins_s in [0.0, 15.0, 30.0, 50.0, 75.0, 110.0, 150.0, 220.0] {
            let from = start(LEAD_S + begins_s, v);
            last_turns(&sit, &hangs, &from, None, (v, rate), &mut found);
        }
        for first_deg in [-120.0f64, -90.0, -60.0, -30.0, 30.0, 60.0, 90.0, 120.0] {
            let by_rad = first_deg.to_radians();
            let leg = Leg {
                start_s: LEAD_S,
                by_rad,
                rate_rad_s: rate,
            };
            // It is held for a while, so it must be one that can be fished.
            if on(&hangs, truth.heading_rad + by_rad).is_none() {
                continue;
            }
            for holds_s in [20.0, 60.0, 120.0, 240.0] {
                let begin = start(LEAD_S + sit.boat.yaw_time_constant_s, v);
                let end_s = begin.t_s + by_rad.abs() / rate;
                let turned = sail(begin, end_s, rate.copysign(by_rad), v, sit.boat.current_mps);
                let from = sail(turned, end_s + holds_s, 0.0, v, sit.boat.current_mps);
                last_turns(&sit, &hangs, &from, Some(leg), (v, rate), &mut found);
            }
        }
    }
    found.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    let step = (found.len() / MOST_JUDGED).max(1);
    // The best by those who choose; what it is worth, the others tell.
    let mut best: Option<(f64, &Found)> = None;
    for one in found.iter().step_by(step) {
        let least = best.map_or(OFFERED, |(chance, _)| chance);
        let of = |panel| judge(&sit, &one.course, one.at_s, panel);
        if of(Panel::First).chance > least - 0.15 {
            let judged = of(Panel::Choosers);
            let better = best.is_none_or(|(most, _)| judged.chance > most);
            if better && judged.comes_down <= MOST_DOWN {
                best = Some((judged.chance, one));
            }
        }
    }
    let best = best.map_or(0.0, |(_, one)| {
        println!("{:?}", one.course);
        let told = judge(&sit, &one.course, one.at_s, Panel::Tellers);
        if told.comes_down <= MOST_DOWN {
            told.chance
        } else {
            0.0
        }
    });
    println!(
        "{} courses lead over the mark, the best has {best:.2}",
        found.len()
    );
    best
}

fn at<'a>(truth: &Truth, seen: &'a Seen) -> Situation<'a> {
    let (heading, speed) = (truth.heading_rad, truth.speed_mps);
    situation(truth, seen, &seen.rigs, [0.0; 2], heading, speed, LEAD_S)
}

#[test]
fn refusals_are_right() {
    let (seed, count) = seeds("REFUSED", (17, 2));
    let (mut looked, mut wrong, mut case) = (0, Vec::new(), 0);
    while looked < count {
        if let Some((truth, seen)) = invented(seed, case)
            && let Err(refusal) = plan(&at(&truth, &seen))
        {
            looked += 1;
            println!("case {case}: {}", refusal.why);
            let best = best_of_all(&truth, &seen);
            if best >= OFFERED + CLEARLY {
                wrong.push((case, best, refusal));
            }
        }
        case += 1;
    }
    println!("{} of {looked} refusals are wrong: {wrong:#?}", wrong.len());
    // Of a few none may be; what many show is in the head of `src/pass/mod.rs`.
    assert!(wrong.len() * 10 <= looked, "{wrong:#?}");
}
