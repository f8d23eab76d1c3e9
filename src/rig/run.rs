//! The moving rig: integrates its motion along a timeline of boat, air and hands.
//! In: rig, timeline, state at a moment. Out: samples at any later moment and the state there.
//! Knows no clock: time is the timeline's.
//!
//! Variable-step BDF2 (Gear 1971; formulas as in Hairer, Norsett and Wanner, *Solving Ordinary
//! Differential Equations I*, III.5: from memory) for positions, one or two Newton iterations per
//! step. The step size is controlled by the difference between quadratic predictor and solution.
//! Positions are relative to the boat, so a steady rig takes long steps.

use thiserror::Error;

use super::accuracy::{Accuracy, FINEST_STEP_S};
use super::air::Profile;
use super::assembly::Work;
use super::conditions::{Moment, Timeline};
use super::mesh::MAX_NODES;
use super::parameters::{GRAVITY_MPS2, Rig};
use super::sample::{Sample, State, mix, sample};
use super::seaway::{STILL, Water};
use super::shape::{Motion, Shape, World};
use super::system::{Sought, newton_step};
use super::vector::{V3, ZERO, add, dot, scale, sub};

/// Why a run stopped.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum RunEnd {
    /// The kite touched the water.
    #[error("the kite is in the water at {t_s:.1} s")]
    KiteInWater {
        /// When, s on the timeline.
        t_s: f64,
    },
    /// The kite line is slack: the kite falls, which the model does not cover.
    #[error("the kite falls on a slack line at {t_s:.1} s")]
    KiteFalls {
        /// When, s on the timeline.
        t_s: f64,
    },
    /// No solution however small the step; nothing is known from here on.
    #[error("the model found no solution at {t_s:.1} s")]
    Diverged {
        /// When, s on the timeline.
        t_s: f64,
    },
    /// The timeline gave a value that is not finite, or an impossibly short line.
    #[error("boat, wind or line out at {t_s:.1} s make no sense")]
    BadTimeline {
        /// When, s on the timeline.
        t_s: f64,
    },
}

/// A run begins with the step size of its state, but with none shorter than this.
const FIRST_STEP_S: f64 = 0.1;
/// Shortest step where steps are of one length and Newton's method does not settle.
const FINEST_EVEN_STEP_S: f64 = 0.005;
/// Newton's method goes on after a move longer than this.
const FAR_M: f64 = 0.05;
const NEWTON_STEPS: u32 = 6;
/// Newton's method goes on after those at the shortest step, which cannot be halved any more, with
/// moves held to a length: slack line would make them swing. The lengths and how many moves each is
/// good for were set where most runs of a day with lulls find a solution.
const HELD_MOVES: [(u32, f64); 2] = [(14, 0.5), (40, 0.05)];
/// Moves before, m: held only to keep a bad one finite.
const FREE_MOVE_M: f64 = 10.0;
/// A kite line that pulls less than this share of the kite's weight is slack.
const SLACK_SHARE: f64 = 0.2;
const CREEP_STEPS: u32 = 60;

/// A rig that advances in time. Does not allocate while it advances.
#[derive(Debug)]
pub struct Run<'a, T: Timeline> {
    rig: &'a Rig,
    timeline: T,
    profile: Profile,
    accuracy: Accuracy,
    work: Work,
    motion: Motion,
    /// Solved points: `state` at `t_s`, and the one before it (`earlier`) for what lies between.
    state: State,
    t_s: f64,
    earlier: Shape,
    /// The solution of the step that is being tried.
    trial: Shape,
    /// The water at every node; empty on flat water.
    waters: Vec<Water>,
    /// Moment last asked for.
    asked_s: f64,
    next_step_s: f64,
    end: Option<RunEnd>,
    steps: u32,
    newton_steps: u32,
}

impl<'a, T: Timeline> Run<'a, T> {
    /// Starts at `t0_s` from `state`.
    #[must_use]
    pub fn new(rig: &'a Rig, timeline: T, state: State, t0_s: f64) -> Self {
        Self::with_accuracy(rig, timeline, state, t0_s, Accuracy::SHIPPED)
    }

    /// Starts with another accuracy, for convergence checks.
    #[must_use]
    pub fn with_accuracy(
        rig: &'a Rig,
        timeline: T,
        state: State,
        t0_s: f64,
        accuracy: Accuracy,
    ) -> Self {
        let exponent = timeline.wind(t0_s).shear_exponent;
        let end = (state.mesh != rig.mesh).then_some(RunEnd::Diverged { t_s: t0_s });
        let first_step_s = state.gaps_s[0].max(FIRST_STEP_S);
        let waters = match timeline.ride() {
            Some(_) => vec![STILL; rig.mesh.nodes()],
            None => Vec::new(),
        };
        Self {
            rig,
            timeline,
            profile: Profile::new(if exponent.is_finite() { exponent } else { 0.0 }),
            accuracy,
            work: Work::new(),
            motion: Motion::still(),
            earlier: state.shape.clone(),
            trial: state.shape.clone(),
            waters,
            state,
            t_s: t0_s,
            asked_s: t0_s,
            next_step_s: first_step_s,
            end,
            steps: 0,
            newton_steps: 0,
        }
    }

    /// Steps and Newton solves so far, for profiling.
    #[must_use]
    pub fn effort(&self) -> (u32, u32) {
        (self.steps, self.newton_steps)
    }

    /// Advances to `t_s` and returns the rig there. A time before the last requested one returns
    /// the state at that one.
    ///
    /// # Errors
    /// Why it stopped; it stays stopped.
    pub fn advance_to(&mut self, t_s: f64) -> Result<Sample, RunEnd> {
        if !t_s.is_finite() {
            return Err(RunEnd::BadTimeline { t_s: self.asked_s });
        }
        let t_s = t_s.max(self.asked_s);
        while self.t_s < t_s {
            if let Some(end) = self.end {
                return Err(end);
            }
            if let Err(end) = self.step() {
                self.end = Some(end);
                return Err(end);
            }
        }
        if let Some(end) = self.end
            && self.t_s <= t_s
        {
            return Err(end);
        }
        self.asked_s = t_s;
        let moment = Moment::of(&self.timeline, t_s);
        if !moment.is_finite() {
            let end = RunEnd::BadTimeline { t_s };
            self.end = Some(end);
            return Err(end);
        }
        self.profile.set_exponent(moment.wind.shear_exponent);
        let mut shape = Shape::empty();
        self.shape_at(t_s, &mut shape);
        let velocity = self.velocity_at(self.rig.mesh.kite(), t_s);
        self.look_at_water(&shape.x, t_s);
        let mut world = moment.world(self.rig, &self.profile);
        ride_in(&mut world, &self.timeline, &moment, &self.waters, t_s);
        Ok(sample(self.rig, t_s, &moment, &world, &shape, velocity))
    }

    /// State at the moment last asked for.
    #[must_use]
    pub fn state(&self) -> State {
        let t = self.asked_s;
        if t >= self.t_s {
            return self.state.clone();
        }
        let mut s = self.state.clone();
        self.shape_at(t, &mut s.shape);
        let n = self.rig.mesh.nodes();
        let (g0, g1) = (self.state.gaps_s[0], self.state.gaps_s[1]);
        for node in 0..n {
            s.before[0][node] = self.place_at(node, t - g0);
            s.before[1][node] = self.place_at(node, t - g0 - g1);
            s.velocity[0][node] = self.velocity_at(node, t);
            s.velocity[1][node] = self.velocity_at(node, t - g0);
        }
        s.main_line_m = self.timeline.lines(t).main_m;
        s
    }

    /// Place of a node by the quadratic through the last three solved points.
    fn place_at(&self, node: usize, t_s: f64) -> V3 {
        let s = &self.state;
        let (h, h1) = (s.gaps_s[0], s.gaps_s[1]);
        let d = t_s - self.t_s;
        let x0 = s.shape.x[node];
        let x1 = s.before[0][node];
        let x2 = s.before[1][node];
        let first = scale(sub(x0, x1), 1.0 / h);
        let second = scale(sub(first, scale(sub(x1, x2), 1.0 / h1)), 1.0 / (h + h1));
        add(x0, add(scale(first, d), scale(second, d * (d + h))))
    }

    fn velocity_at(&self, node: usize, t_s: f64) -> V3 {
        let s = &self.state;
        let share = (t_s - self.t_s) / s.gaps_s[0];
        add(
            s.velocity[0][node],
            scale(sub(s.velocity[0][node], s.velocity[1][node]), share),
        )
    }

    fn shape_at(&self, t_s: f64, out: &mut Shape) {
        let share = 1.0 + (t_s - self.t_s) / self.state.gaps_s[0];
        if self.steps == 0 || share >= 1.0 {
            out.clone_from(&self.state.shape);
            return;
        }
        for node in 0..self.rig.mesh.nodes() {
            out.x[node] = self.place_at(node, t_s);
        }
        out.tension = mix(&self.rig.mesh, &self.earlier, &self.state.shape, share);
        out.reel_leg_m = self.earlier.reel_leg_m
            + share * (self.state.shape.reel_leg_m - self.earlier.reel_leg_m);
    }

    /// The water at every node, for places relative to the boat.
    fn look_at_water(&mut self, places: &[V3; MAX_NODES], t_s: f64) {
        if let Some(ride) = self.timeline.ride() {
            for (water, place) in self.waters.iter_mut().zip(places) {
                *water = ride.water(*place, t_s);
            }
        }
    }

    /// One accepted step.
    fn step(&mut self) -> Result<(), RunEnd> {
        let mut h = self.next_step_s.min(self.accuracy.longest_step_s);
        let even = self.accuracy.even();
        let finest_s = if even {
            FINEST_EVEN_STEP_S
        } else {
            FINEST_STEP_S
        };
        loop {
            h = h.max(finest_s);
            let moment = Moment::of(&self.timeline, self.t_s + h);
            let rig = self.rig;
            if !moment.is_finite()
                || moment.lines.kite_m < rig.parameters.kite_line.clip_to_kite_m + 1.0
                || moment.lines.main_m < rig.parameters.marker.above_bait_m + 1.0
            {
                return Err(RunEnd::BadTimeline { t_s: self.t_s + h });
            }
            let finest = h <= finest_s;
            match self.solve_step(h, &moment) {
                Some(error) => {
                    if error > 1.5 && !finest && !even {
                        h *= (0.85 / error.cbrt()).clamp(0.2, 0.8);
                        continue;
                    }
                    let longer = (0.85 / error.max(1e-6).cbrt()).clamp(0.5, 1.8);
                    self.next_step_s = h * if even { 1.8 } else { longer };
                    self.accept(h, &moment);
                }
                None if !finest => {
                    h *= 0.3;
                    continue;
                }
                None => {
                    if !self.creep_step(h, &moment) {
                        let weight_n = rig.parameters.kite.mass_kg * GRAVITY_MPS2;
                        let slack = self.state.shape.tension[0] < SLACK_SHARE * weight_n;
                        return Err(if slack {
                            RunEnd::KiteFalls { t_s: self.t_s }
                        } else {
                            RunEnd::Diverged { t_s: self.t_s }
                        });
                    }
                    self.next_step_s = h;
                    self.accept(h, &moment);
                }
            }
            if self.state.shape.x[rig.mesh.kite()][2] <= 0.0 {
                return Err(RunEnd::KiteInWater { t_s: self.t_s });
            }
            return Ok(());
        }
    }

    /// BDF2 over `h`: the shape at its end and its error as a share of what is allowed. `None`
    /// when Newton's method does not settle.
    fn solve_step(&mut self, h: f64, moment: &Moment) -> Option<f64> {
        let rig = self.rig;
        let n = rig.mesh.nodes();
        let bait = rig.mesh.bait();
        let bait_height_m = rig.parameters.bait.height_m;
        self.profile.set_exponent(moment.wind.shear_exponent);
        let (h1, h2) = (self.state.gaps_s[0], self.state.gaps_s[1]);
        let w = h / h1;
        let now = (1.0 + 2.0 * w) / (h * (1.0 + w));
        let last = -(1.0 + w) / h;
        let before = w * w / (h * (1.0 + w));
        self.motion.rate = now;
        let even = self.accuracy.even();
        self.motion.inertia_rate = 1.0 / h;
        self.motion.body_inertia_rate = if even { now } else { 1.0 / h };
        let bodies = [rig.mesh.kite(), rig.mesh.marker(), bait];
        self.trial.clone_from(&self.state.shape);
        let mut forecast = [ZERO; MAX_NODES];
        for node in 0..n {
            let x0 = self.state.shape.x[node];
            let x1 = self.state.before[0][node];
            let x2 = self.state.before[1][node];
            self.motion.velocity_rest[node] = add(scale(x0, last), scale(x1, before));
            let [v0, v1] = [self.state.velocity[0][node], self.state.velocity[1][node]];
            self.motion.velocity_before[node] = if even && bodies.contains(&node) {
                add(scale(v0, -last / now), scale(v1, -before / now))
            } else {
                v0
            };
            let first = scale(sub(x0, x1), 1.0 / h1);
            let second = scale(sub(first, scale(sub(x1, x2), 1.0 / h2)), 1.0 / (h1 + h2));
            forecast[node] = add(x0, add(scale(first, h), scale(second, h * (h + h1))));
        }
        self.trial.x[..n].copy_from_slice(&forecast[..n]);
        let end_s = self.t_s + h;
        self.look_at_water(&forecast, end_s);
        let water_m = self.waters.get(bait).map_or(0.0, |w| w.level_m);
        let mut world = moment.world(rig, &self.profile);
        ride_in(&mut world, &self.timeline, moment, &self.waters, end_s);
        let mut main_m = moment.lines.main_m;
        let mut solved = false;
        let free_moves = if even { 4 * NEWTON_STEPS } else { NEWTON_STEPS };
        let held: &[(u32, f64)] = if !even && h <= FINEST_STEP_S {
            &HELD_MOVES
        } else {
            &[]
        };
        let limits_m = std::iter::once((free_moves, FREE_MOVE_M))
            .chain(held.iter().copied())
            .flat_map(|(count, limit_m)| std::iter::repeat_n(limit_m, count as usize));
        let far_m = FAR_M.min(50.0 * self.accuracy.place_m);
        for limit_m in limits_m {
            self.newton_steps += 1;
            let b = newton_step(
                rig,
                &world,
                &self.motion,
                &mut self.trial,
                &mut main_m,
                Sought::Places,
                limit_m,
                &mut self.work,
            );
            if !b.is_finite() {
                return None;
            }
            // Newton's error after a move is the move squared over a piece's length. Near the
            // surface the bait's buoyancy bends the force within its own height.
            let near = (self.trial.x[bait][2] - water_m).abs() < 1.5 * bait_height_m;
            if b.move_m < far_m
                && b.move_m * b.contraction < 0.1 * self.accuracy.place_m
                && (!near || b.bait_rise_m.abs() < 0.05 * bait_height_m)
            {
                solved = true;
                break;
            }
        }
        if !solved {
            return None;
        }
        // The leading errors of formula and predictor are the same third derivative times a cubed
        // step (over 6) with known factors, so their known difference gives each.
        let own = h * (1.0 + w) * (1.0 + w) * h * h / (w * (1.0 + 2.0 * w));
        let forecasts = h * (h + h1) * (h + h1 + h2);
        let mut worst: f64 = 0.0;
        for node in 0..n {
            let d = sub(self.trial.x[node], forecast[node]);
            worst = worst.max(dot(d, d));
        }
        let error = worst.sqrt() * own / (own + forecasts) / self.accuracy.place_m;
        Some(error)
    }

    /// Fallback when Newton's method does not converge at the shortest step: one implicit Euler
    /// step without inertia. The neglected transients are shorter than the step.
    fn creep_step(&mut self, h: f64, moment: &Moment) -> bool {
        let rig = self.rig;
        self.profile.set_exponent(moment.wind.shear_exponent);
        let end_s = self.t_s + h;
        let places = self.state.shape.x;
        self.look_at_water(&places, end_s);
        let mut world = moment.world(rig, &self.profile);
        ride_in(&mut world, &self.timeline, moment, &self.waters, end_s);
        self.motion.rate = 1.0 / h;
        self.motion.inertia_rate = 0.0;
        self.motion.body_inertia_rate = 0.0;
        for (rest, x) in self
            .motion
            .velocity_rest
            .iter_mut()
            .zip(&self.state.shape.x)
        {
            *rest = scale(*x, -1.0 / h);
        }
        self.trial.clone_from(&self.state.shape);
        let mut main_m = moment.lines.main_m;
        for _ in 0..CREEP_STEPS {
            self.newton_steps += 1;
            let b = newton_step(
                rig,
                &world,
                &self.motion,
                &mut self.trial,
                &mut main_m,
                Sought::Places,
                0.5,
                &mut self.work,
            );
            if !b.is_finite() {
                return false;
            }
            if b.move_m < 0.01 {
                return true;
            }
        }
        false
    }

    /// Accepts a solved shape; velocities follow from the last assembly.
    fn accept(&mut self, h: f64, moment: &Moment) {
        let boat_velocity = moment.boat_velocity();
        let n = self.rig.mesh.nodes();
        self.steps += 1;
        let state = &mut self.state;
        let [last, before] = &mut state.before;
        before[..n].copy_from_slice(&last[..n]);
        last[..n].copy_from_slice(&state.shape.x[..n]);
        state.gaps_s = [h, state.gaps_s[0]];
        let [now, earlier] = &mut state.velocity;
        earlier[..n].copy_from_slice(&now[..n]);
        for (node, velocity) in now[..n].iter_mut().enumerate() {
            *velocity = add(
                add(
                    scale(self.trial.x[node], self.motion.rate),
                    self.motion.velocity_rest[node],
                ),
                boat_velocity,
            );
        }
        std::mem::swap(&mut self.earlier, &mut state.shape);
        std::mem::swap(&mut state.shape, &mut self.trial);
        state.main_line_m = moment.lines.main_m;
        self.t_s += h;
    }
}

/// Sets the world into the timeline's seaway, where it has one.
fn ride_in<'w, T: Timeline>(
    world: &mut World<'w>,
    timeline: &T,
    moment: &Moment,
    waters: &'w [Water],
    t_s: f64,
) {
    if let Some(ride) = timeline.ride() {
        ride.move_tips(world, moment.boat.heading_rad, t_s);
        world.waters = waters;
    }
}
