//! Passes flown in the true world: as planned, and by the habit.
//!
//! While the plan is followed somebody watches the bait and says every [`AGAIN_S`] seconds what it
//! does; beliefs that disagree are resampled, and the plan is carried on from where the boat is.

use skimwatch::decode::BaitState;
use skimwatch::forecast::{LIKELY_STEP_S, Likely, LikelyRigs};
use skimwatch::pass::{CHOOSERS, Course, Flat, LineOrder, amend};
use skimwatch::rig::{Accuracy, BoatMotion, LineLengths, Run, State, Timeline, Wind};

use crate::pass_world::{DRAGGING, Dice, Seen, TRIM, Truth, gusty, situation};

/// The plan is carried on so often, s.
const AGAIN_S: f64 = 10.0;
/// What a gust leaves fades in this time, s.
const FADES_S: f64 = 15.0;

/// A stretch of motion, every second.
struct Stretch<'a> {
    heading: &'a [f64],
    speed: &'a [f64],
    winds: &'a [Wind],
    main: &'a [f64],
    kite_m: f64,
}

fn at(of: &[f64], t: f64) -> f64 {
    let i = (t.max(0.0) as usize).min(of.len() - 2);
    of[i] + (t - i as f64).clamp(0.0, 1.0) * (of[i + 1] - of[i])
}

impl Timeline for Stretch<'_> {
    fn boat(&self, t: f64) -> BoatMotion {
        let i = (t.max(0.0) as usize).min(self.heading.len() - 2);
        BoatMotion {
            heading_rad: at(self.heading, t),
            yaw_rate_rad_s: self.heading[i + 1] - self.heading[i],
            speed_mps: at(self.speed, t),
        }
    }
    fn wind(&self, t: f64) -> Wind {
        let i = (t.max(0.0) as usize).min(self.winds.len() - 2);
        let (a, b) = (self.winds[i], self.winds[i + 1]);
        let share = (t - i as f64).clamp(0.0, 1.0);
        Wind {
            speed_10m_mps: a.speed_10m_mps + share * (b.speed_10m_mps - a.speed_10m_mps),
            from_rad: a.from_rad + share * (b.from_rad - a.from_rad),
            shear_exponent: a.shear_exponent,
        }
    }
    fn lines(&self, t: f64) -> LineLengths {
        LineLengths {
            kite_m: self.kite_m,
            main_m: at(self.main, t),
        }
    }
}

#[derive(Debug, Clone, Copy, Default)]
pub struct Outcome {
    pub miss_m: f64,
    pub skipping: f64,
}

/// Keeps count of the closest approach and of the last 20 s before it.
struct Tally {
    skips: Vec<bool>,
    before: Option<Flat>,
    best: (f64, usize),
}

impl Tally {
    fn new() -> Self {
        Self {
            skips: Vec::new(),
            before: None,
            best: (f64::INFINITY, 0),
        }
    }
    fn note(&mut self, bait: Flat, mark: Flat, immersion: f64, counts: bool) {
        self.skips.push(immersion > 0.0 && immersion < DRAGGING);
        let d = [bait[0] - mark[0], bait[1] - mark[1]];
        if let (Some(a), true) = (self.before, counts) {
            for k in 0..=10 {
                let share = f64::from(k) / 10.0;
                let p = [a[0] + share * (d[0] - a[0]), a[1] + share * (d[1] - a[1])];
                let m = p[0].hypot(p[1]);
                if m < self.best.0 {
                    self.best = (m, self.skips.len());
                }
            }
        }
        self.before = Some(d);
    }
    fn outcome(&self) -> Outcome {
        let seen = &self.skips[self.best.1.saturating_sub(21)..self.best.1];
        Outcome {
            miss_m: self.best.0,
            skipping: seen.iter().filter(|s| **s).count() as f64 / seen.len().max(1) as f64,
        }
    }
}

/// The boat and the rig in the true world.
struct World<'a> {
    truth: &'a Truth,
    state: State,
    /// Since the beginning, every second.
    heading: Vec<f64>,
    speed: Vec<f64>,
    main: Vec<f64>,
    place: Vec<Flat>,
    tally: Tally,
    /// Of the bait now.
    immersion: f64,
    ended: bool,
}

impl<'a> World<'a> {
    fn new(truth: &'a Truth) -> Self {
        Self {
            truth,
            state: truth.state.clone(),
            heading: vec![truth.heading_rad],
            speed: vec![truth.speed_mps],
            main: vec![truth.lines.main_m],
            place: vec![[0.0; 2]],
            tally: Tally::new(),
            immersion: 1.0,
            ended: false,
        }
    }
    fn now(&self) -> usize {
        self.heading.len() - 1
    }
    /// Goes on for a while. `steer` gives the ordered heading and speed, `hands` the main line, for
    /// a second of the whole time.
    fn go(
        &mut self,
        seconds: usize,
        counts: bool,
        steer: impl Fn(f64, Flat) -> (f64, f64),
        hands: impl Fn(f64) -> f64,
    ) {
        let t = self.truth;
        let first = self.now();
        for i in first + 1..=first + seconds + 1 {
            let (ordered, pace) = steer(i as f64, *self.place.last().unwrap());
            self.heading.push(ordered + t.yaw[i]);
            self.speed.push(pace * t.pace[i].exp());
            self.main.push(t.lines.main_m + hands(i as f64));
            let middle = 0.5 * (self.heading[i] + self.heading[i - 1]);
            let gone = 0.5 * (self.speed[i] + self.speed[i - 1]);
            let last = *self.place.last().unwrap();
            self.place.push([
                last[0] + gone * middle.sin() + t.current_mps[0],
                last[1] + gone * middle.cos() + t.current_mps[1],
            ]);
        }
        let winds: Vec<Wind> = (first..=first + seconds + 1)
            .map(|i| gusty(t.wind, t.gust[i], t.veer[i]))
            .collect();
        let line = Stretch {
            heading: &self.heading[first..],
            speed: &self.speed[first..],
            winds: &winds,
            main: &self.main[first..],
            kite_m: t.lines.kite_m,
        };
        let mut run = Run::with_accuracy(&t.rig, line, self.state.clone(), 0.0, Accuracy::SHIPPED);
        for k in 1..=seconds {
            let Ok(sample) = run.advance_to(k as f64) else {
                self.ended = true;
                return;
            };
            let place = self.place[first + k];
            let [aft, starboard, _] = sample.shape.bait();
            let (s, c) = sample.heading_rad.sin_cos();
            let bait = [
                place[0] - aft * s + starboard * c,
                place[1] - aft * c - starboard * s,
            ];
            self.immersion = sample.immersion;
            self.tally.note(bait, t.mark_m, sample.immersion, counts);
        }
        self.state = run.state();
        for of in [&mut self.heading, &mut self.speed, &mut self.main] {
            of.pop();
        }
        self.place.pop();
    }
}

/// Brings a believed rig on along what the boat did, in the wind as seen.
/// Its immersion now; `None` where the model gives up.
fn follow(likely: &mut Likely, world: &World<'_>, from: usize) -> Option<f64> {
    let t = world.truth;
    let to = world.now();
    let winds: Vec<Wind> = (from..=to)
        .map(|i| gusty(likely.mean, t.gust[i], t.veer[i]))
        .collect();
    let moved: Vec<f64> = (from..=to)
        .map(|i| likely.lines.main_m + world.main[i] - world.main[from])
        .collect();
    let line = Stretch {
        heading: &world.heading[from..=to],
        speed: &world.speed[from..=to],
        winds: &winds,
        main: &moved,
        kite_m: likely.lines.kite_m,
    };
    let mut run = Run::with_accuracy(
        &likely.rig,
        line,
        likely.state.clone(),
        0.0,
        Accuracy::COARSE,
    );
    let sample = run.advance_to((to - from) as f64);
    let state = run.state();
    let immersion = sample.ok().map(|sample| sample.immersion);
    if immersion.is_some() {
        likely.state = state;
    }
    likely.lines.main_m = *moved.last().unwrap();
    immersion
}

/// Somebody at the bait: what they say of it, one time in ten wrongly.
struct Watcher(Dice);

impl Watcher {
    fn says(&mut self, immersion: f64) -> BaitState {
        let seen = bait_state(immersion);
        if self.0.uniform(0.0, 1.0) > 0.1 {
            return seen;
        }
        match seen {
            BaitState::Skipping if self.0.uniform(0.0, 1.0) < 0.5 => BaitState::Airborne,
            BaitState::Skipping => BaitState::Dragging,
            BaitState::Airborne | BaitState::Dragging => BaitState::Skipping,
        }
    }
}

fn bait_state(immersion: f64) -> BaitState {
    if immersion <= 0.0 {
        BaitState::Airborne
    } else if immersion >= DRAGGING {
        BaitState::Dragging
    } else {
        BaitState::Skipping
    }
}

/// What is believed while the plan is followed.
struct Belief {
    pool: Vec<(Likely, [Vec<f64>; 2])>,
    /// Logarithms.
    weights: Vec<f64>,
    typical: Likely,
    from: usize,
}

impl Belief {
    fn new(seen: &Seen) -> Self {
        Self {
            weights: vec![0.0; seen.pool.len()],
            pool: seen.pool.clone(),
            typical: seen.rigs.typical.clone(),
            from: 0,
        }
    }

    /// Brings the rigs on to now, weighs them by what is said of the bait, and draws some of them.
    fn follow(&mut self, world: &World<'_>, said: BaitState) -> LikelyRigs {
        for ((likely, _), weight) in self.pool.iter_mut().zip(&mut self.weights) {
            let agrees = match follow(likely, world, self.from) {
                Some(immersion) if bait_state(immersion) == said => 0.9f64,
                Some(_) => 0.1,
                None => 0.01,
            };
            // So few rigs would soon be one: no word counts in full.
            *weight += 0.3 * agrees.ln();
        }
        follow(&mut self.typical, world, self.from);
        self.from = world.now();
        self.drawn(world)
    }

    fn drawn(&self, world: &World<'_>) -> LikelyRigs {
        let (truth, now) = (world.truth, world.now());
        // What the last minute had becomes the mean, and the rest of now fades.
        let lately =
            |of: &[f64]| (of[..=now].iter()).fold(0.0, |mean, one| mean + (one - mean) / 60.0);
        let (gust, veer) = (lately(&truth.gust), lately(&truth.veer));
        let (gust_now, veer_now) = (truth.gust[now] - gust, truth.veer[now] - veer);
        let most = self
            .weights
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = self.weights.iter().map(|w| (w - most).exp()).collect();
        let total: f64 = weights.iter().sum();
        let (mut i, mut upto) = (0, weights[0]);
        let all = (0..CHOOSERS).map(|k| {
            let wanted = (k as f64 + 0.5) / CHOOSERS as f64 * total;
            while upto < wanted && i + 1 < weights.len() {
                i += 1;
                upto += weights[i];
            }
            let (likely, _) = &self.pool[i];
            let (slot, [gusts, veers]) = &self.pool[k];
            let mean = gusty(likely.mean, gust, veer);
            let winds = (gusts.iter().zip(veers).enumerate()).map(|(j, (a, b))| {
                let left = (-(j as f64) * LIKELY_STEP_S / FADES_S).exp();
                gusty(mean, a + left * gust_now, b + left * veer_now)
            });
            Likely {
                mean,
                winds: winds.collect(),
                ways: slot.ways.clone(),
                helm_z: slot.helm_z,
                ..likely.clone()
            }
        });
        let all = all.collect();
        let mut typical = self.typical.clone();
        typical.mean = gusty(typical.mean, gust, veer);
        typical.winds = vec![typical.mean; 2];
        LikelyRigs {
            typical,
            all,
            trim_immersion: TRIM,
        }
    }
}

pub fn fly_plan(truth: &Truth, seen: &Seen, first: &skimwatch::pass::PassPlan) -> Outcome {
    let mut world = World::new(truth);
    let mut belief = Belief::new(seen);
    let mut watcher = Watcher(Dice::new(truth.watcher, 0));
    let mut course = first.course.clone();
    let mut ends_s = first.judged.at_s;
    // Orders in whole time: legs with the heading from which they turn, and line.
    let mut legs: Vec<(f64, f64, f64)> = orders(&course, 0.0);
    let mut lines = course.lines.clone();
    let counts_from = course.legs.last().map_or(0.0, |leg| leg.start_s);
    while (world.now() as f64) < ends_s + 35.0 && world.now() < 640 && !world.ended {
        let base = truth.heading_rad;
        let steer = |t: f64, _: Flat| {
            let heading = legs.iter().fold(base, |heading, (start, by, rate)| {
                let over = by.abs() / (rate * truth.rate_share);
                heading + by * ((t - start - truth.late_s) / over).clamp(0.0, 1.0)
            });
            let change = 1.0 - (-t / 10.0).exp();
            (
                heading,
                truth.speed_mps + (course.speed_mps - truth.speed_mps) * change,
            )
        };
        let hands = |t: f64| {
            lines.iter().fold(0.0, |sum, order| {
                sum + order.by_m * ((t - order.in_s) / order.over_s.max(0.1)).clamp(0.0, 1.0)
            })
        };
        let counts = world.now() as f64 >= counts_from.min(ends_s - 40.0);
        world.go(AGAIN_S as usize, counts, steer, hands);
        let now = world.now();
        if world.ended {
            break;
        }
        let said = watcher.says(world.immersion);
        let rigs = belief.follow(&world, said);
        let t = now as f64;
        let busy = legs
            .iter()
            .any(|(start, by, rate)| (start - 6.0..start + by.abs() / rate + 6.0).contains(&t))
            || lines
                .iter()
                .any(|order| (order.in_s - 4.0..order.in_s + order.over_s + 4.0).contains(&t));
        let to_come = ends_s - t;
        if busy || to_come < 0.0 {
            continue;
        }
        let wanted: f64 = legs
            .iter()
            .filter(|(start, ..)| *start < t)
            .map(|(_, by, _)| by)
            .sum();
        let sit = situation(
            truth,
            seen,
            &rigs,
            world.place[now],
            truth.heading_rad + wanted,
            course.speed_mps,
            4.0,
        );
        let rest: Vec<_> = legs
            .iter()
            .filter(|(start, ..)| *start > t)
            .copied()
            .collect();
        let mut remaining = course.clone();
        remaining.lines = lines
            .iter()
            .filter(|order| order.in_s > t)
            .copied()
            .collect();
        for order in &mut remaining.lines {
            order.in_s -= t;
        }
        remaining.legs = rest
            .iter()
            .map(|(start, by, rate)| skimwatch::pass::Leg {
                start_s: start - t,
                by_rad: *by,
                rate_rad_s: *rate,
            })
            .collect();
        let amended = amend(&sit, &remaining, to_come);
        ends_s = t + amended.judged.at_s;
        legs.retain(|(start, ..)| *start <= t);
        legs.extend(orders(&amended.course, t));
        lines.retain(|order| order.in_s <= t);
        lines.extend(amended.course.lines.iter().map(|order| LineOrder {
            in_s: order.in_s + t,
            ..*order
        }));
        course.speed_mps = amended.course.speed_mps;
    }
    world.tally.outcome()
}

fn orders(course: &Course, t: f64) -> Vec<(f64, f64, f64)> {
    course
        .legs
        .iter()
        .map(|leg| (leg.start_s + t, leg.by_rad, leg.rate_rad_s))
        .collect()
}

pub fn fly_habit(truth: &Truth) -> Outcome {
    let mut world = World::new(truth);
    let mut heading = truth.heading_rad;
    let mut reached = None;
    while world.now() < 600 && !world.ended {
        let place = *world.place.last().unwrap();
        let to = [truth.mark_m[0] - place[0], truth.mark_m[1] - place[1]];
        if to[0].hypot(to[1]) < 15.0 && reached.is_none() {
            reached = Some(world.now());
        }
        if reached.is_some_and(|at| world.now() > at + 90) {
            break;
        }
        let bearing = to[0].atan2(to[1]);
        let off = skimwatch::angles::wrap_signed(bearing - heading);
        let by = if reached.is_some() {
            0.0
        } else {
            off.clamp(-0.07, 0.07)
        };
        let (from, next) = (heading, heading + by);
        let first = world.now() as f64;
        world.go(
            2,
            true,
            |t, _| {
                (
                    from + (next - from) * ((t - first) / 2.0).clamp(0.0, 1.0),
                    truth.speed_mps,
                )
            },
            |_| 0.0,
        );
        heading = next;
    }
    world.tally.outcome()
}
