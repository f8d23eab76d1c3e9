//! Settled states: the rig as it hangs beside a boat that has held course and speed.
//! In: rig, conditions, main line out or the immersion wanted. Out: the settled sample with its
//! force residual, or why no crew could use such a trim. Knows no time.
//!
//! Newton's method on the same forces the moving rig uses, from a first guess that marches the
//! hanging leg up from the bait (there the force is known) to the clip. When Newton fails the rig
//! is let go in its own damping with growing steps (pseudo-transient continuation, Kelley and
//! Keyes 1998, SIAM J. Numer. Anal. 35, 508-523: citation from memory) until Newton holds.

use thiserror::Error;

use super::air::Profile;
use super::conditions::{Conditions, Moment};
use super::mesh::{HANG, KITE_ABOVE, KITE_BELOW, REEL};
use super::parameters::{GRAVITY_MPS2, Rig, RigError};
use super::sample::{Sample, State, sample};
use super::system::{Balance, Motion, Shape, Sought, Work, World, newton_step};
use super::vector::{V3, add, norm, scale, sub};

/// What is given of the main line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MainLine {
    /// This much is out, m.
    Out(f64),
    /// As much as puts this share of the bait under water, 0 to 1.
    Immersion(f64),
}

/// A settled rig.
#[derive(Debug, Clone)]
pub struct Steady {
    /// Main line out, m.
    pub main_line_m: f64,
    /// What it looks like.
    pub sample: Sample,
    /// Largest force left on any body or node, N.
    pub residual_n: f64,
    /// State to go on from.
    pub state: State,
}

/// Why there is no usable trim, and what would make one.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoTrim {
    /// A number given makes no sense.
    #[error("conditions refused: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Refused(Vec<RigError>),
    /// The kite does not carry itself, line and bait.
    #[error(
        "too little wind: {apparent_mps:.1} m/s at the kite lifts {lift_n:.1} N against {weight_n:.1} N of kite, line and bait. More boat speed toward the wind, a larger kite or a lighter bait would make it fly"
    )]
    TooLittleWind {
        /// Apparent wind at the kite, m/s.
        apparent_mps: f64,
        /// Lift there, N.
        lift_n: f64,
        /// What it has to carry, N.
        weight_n: f64,
    },
    /// More main line than a crew works with, or none is enough.
    #[error(
        "too much wind on the hanging line: it would need {} of main line out. A shorter kite line, a heading further from the wind, less speed or a smaller kite would make it fishable",
        .main_line_m.map_or_else(|| "more than any length".to_owned(), |m| format!("{m:.0} m"))
    )]
    TooMuchLine {
        /// The formal length, when there is one, m.
        main_line_m: Option<f64>,
    },
    /// The bait hangs ahead of the boat.
    #[error(
        "the bait would hang {ahead_m:.0} m ahead of the rod tip. More boat speed or a heading away from dead downwind would bring it astern"
    )]
    BaitAhead {
        /// How far ahead of the main rod tip, m.
        ahead_m: f64,
    },
    /// The kite hangs too low to carry the lines clear.
    #[error(
        "the kite would hang at {elevation_deg:.0} degrees only. More apparent wind or a kite with more lift is needed"
    )]
    KiteLow {
        /// Elevation from the rod tip, degrees.
        elevation_deg: f64,
    },
    /// A line other than the one at the bait lies in the water.
    #[error("line would lie in the water. More kite line or less main line would lift it clear")]
    LineInWater,
    /// The solver found no balance; nothing may be concluded from it.
    #[error("no balance found within {steps} solver steps (force left {residual_n:.3} N)")]
    NotConverged {
        /// Steps tried.
        steps: u32,
        /// Force left over, N.
        residual_n: f64,
    },
}

/// Longest main line a crew works with, m (common practice, no source; the reference cases call
/// over 300 m no usable trim).
pub const LONGEST_MAIN_LINE_M: f64 = 300.0;
/// Lowest kite that keeps its lines clear, radians (own limit: about 20 degrees).
const LOWEST_KITE_RAD: f64 = 0.35;
/// The bait may lie this far forward of the beam, as aft over starboard (about 20 degrees, own
/// limit): further ahead the boat runs over its line.
const FORWARD_OF_BEAM: f64 = -0.364;
/// Formal lengths beyond this are not looked for.
const LONGEST_FORMAL_M: f64 = 1500.0;

/// Force residual a settled state must reach, N.
const RESIDUAL_N: f64 = 1e-7;
const MOVE_M: f64 = 1e-8;
const NEWTON_STEPS: u32 = 25;
const SETTLING_STEPS: u32 = 400;

/// Finds the settled state and refuses the ones no crew could use.
///
/// # Errors
/// Why there is no usable trim, in words, and what would make it fishable.
pub fn steady(
    rig: &Rig,
    conditions: &Conditions,
    main_line: MainLine,
    hint: Option<&State>,
) -> Result<Steady, NoTrim> {
    let found = settled_state(rig, conditions, main_line, hint)?;
    let s = &found.sample;
    if s.kite_elevation_rad < LOWEST_KITE_RAD {
        return Err(NoTrim::KiteLow {
            elevation_deg: s.kite_elevation_rad.to_degrees(),
        });
    }
    if found.main_line_m > LONGEST_MAIN_LINE_M && matches!(main_line, MainLine::Immersion(_)) {
        return Err(NoTrim::TooMuchLine {
            main_line_m: Some(found.main_line_m),
        });
    }
    if s.bait_aft_m < FORWARD_OF_BEAM * s.bait_starboard_m.abs() && s.bait_aft_m < -1.0 {
        return Err(NoTrim::BaitAhead {
            ahead_m: -s.bait_aft_m,
        });
    }
    if s.line_wet_fraction > 0.0 && matches!(main_line, MainLine::Immersion(_)) {
        return Err(NoTrim::LineInWater);
    }
    Ok(found)
}

/// The settled state as the equations give it, usable or not (bait ahead of the boat, more main
/// line than anyone works with). For comparison with other models; a crew is told [`steady`].
///
/// # Errors
/// When numbers are refused, the kite cannot fly or no balance is found.
pub fn settled_state(
    rig: &Rig,
    conditions: &Conditions,
    main_line: MainLine,
    hint: Option<&State>,
) -> Result<Steady, NoTrim> {
    check(rig, conditions, main_line)?;
    let profile = Profile::new(conditions.wind.shear_exponent);
    let mut work = Work::new();
    solve(rig, conditions, main_line, hint, &profile, &mut work)
}

fn check(rig: &Rig, conditions: &Conditions, main_line: MainLine) -> Result<(), NoTrim> {
    conditions.check(rig).map_err(NoTrim::Refused)?;
    let mut gate = super::parameters::Gate::default();
    match main_line {
        MainLine::Out(m) => gate.range(
            "main_line.out_m",
            m,
            rig.parameters().marker.above_bait_m + 1.0,
            LONGEST_FORMAL_M * 2.0,
        ),
        MainLine::Immersion(s) => gate.range("immersion", s, 0.0, 1.0),
    }
    if gate.errors.is_empty() {
        Ok(())
    } else {
        Err(NoTrim::Refused(gate.errors))
    }
}

/// Share of the bait under water a skipping bait is trimmed to: the middle of its band (the
/// reference cases use the same).
pub const TRIM_IMMERSION: f64 = 0.25;

/// The trimmed rig ([`TRIM_IMMERSION`]) for each heading.
pub fn fan(
    rig: &Rig,
    conditions: &Conditions,
    headings_rad: impl IntoIterator<Item = f64>,
) -> Vec<Result<Steady, NoTrim>> {
    fan_with(
        rig,
        conditions,
        headings_rad,
        MainLine::Immersion(TRIM_IMMERSION),
    )
}

/// The settled rig for each heading with main line as given, each started from the one before.
pub fn fan_with(
    rig: &Rig,
    conditions: &Conditions,
    headings_rad: impl IntoIterator<Item = f64>,
    main_line: MainLine,
) -> Vec<Result<Steady, NoTrim>> {
    let mut hint: Option<State> = None;
    headings_rad
        .into_iter()
        .map(|heading_rad| {
            let c = Conditions {
                heading_rad,
                ..*conditions
            };
            let r = steady(rig, &c, main_line, hint.as_ref());
            hint = r.as_ref().ok().map(|s| s.state.clone());
            r
        })
        .collect()
}

struct Guess {
    shape: Shape,
    main_line_m: f64,
}

pub(crate) fn solve(
    rig: &Rig,
    conditions: &Conditions,
    main_line: MainLine,
    hint: Option<&State>,
    profile: &Profile,
    work: &mut Work,
) -> Result<Steady, NoTrim> {
    let moment = Moment::settled(conditions, 0.0);
    let world = moment.world(rig, profile);
    let sought = |s: f64| Sought::MainLine {
        bait_height_m: rig.parameters.bait.height_m * (0.5 - s),
    };
    let mut steps = 0;
    if let Some(h) = hint.filter(|h| h.mesh == rig.mesh) {
        let mut guess = Guess {
            shape: h.shape.clone(),
            main_line_m: h.main_line_m,
        };
        let want = match main_line {
            MainLine::Out(m) => {
                guess.main_line_m = m;
                Sought::Places
            }
            MainLine::Immersion(s) => sought(s),
        };
        if let Ok(r) = newton(rig, &world, &mut guess, want, work, &mut steps) {
            return finish(rig, conditions, &world, guess, r);
        }
    }
    can_fly(rig, &world, conditions)?;
    let first_s = match main_line {
        MainLine::Out(_) => 0.25,
        MainLine::Immersion(s) => s,
    };
    let mut guess = first_guess(rig, &world, first_s);
    let mut trimmed = newton(rig, &world, &mut guess, sought(first_s), work, &mut steps);
    if trimmed.is_err() {
        guess = first_guess(rig, &world, first_s);
        trimmed = settle(rig, &world, &mut guess, sought(first_s), work, &mut steps);
    }
    match (main_line, trimmed) {
        (MainLine::Immersion(_), Ok(r)) => {
            if guess.main_line_m > LONGEST_FORMAL_M {
                return Err(NoTrim::TooMuchLine { main_line_m: None });
            }
            finish(rig, conditions, &world, guess, r)
        }
        (MainLine::Immersion(_), Err(e)) => Err(e),
        (MainLine::Out(m), r) => {
            if r.is_err() {
                guess = first_guess(rig, &world, first_s);
            }
            guess.main_line_m = m;
            let start = guess.shape.clone();
            let r = match newton(rig, &world, &mut guess, Sought::Places, work, &mut steps) {
                Ok(r) => Ok(r),
                Err(_) => {
                    guess = Guess {
                        shape: start,
                        main_line_m: m,
                    };
                    settle(rig, &world, &mut guess, Sought::Places, work, &mut steps)
                }
            }?;
            finish(rig, conditions, &world, guess, r)
        }
    }
}

fn finish(
    rig: &Rig,
    conditions: &Conditions,
    world: &World<'_>,
    guess: Guess,
    balance: Balance,
) -> Result<Steady, NoTrim> {
    let moment = Moment::settled(conditions, guess.main_line_m);
    let s = sample(rig, 0.0, &moment, world, &guess.shape, world.boat_velocity);
    Ok(Steady {
        main_line_m: guess.main_line_m,
        sample: s,
        residual_n: balance.residual_n,
        state: State::settled(
            guess.shape,
            guess.main_line_m,
            world.boat_velocity,
            rig.mesh,
        ),
    })
}

/// Lift against weight at the height the kite would have.
fn can_fly(rig: &Rig, world: &World<'_>, c: &Conditions) -> Result<(), NoTrim> {
    let p = rig.parameters();
    let z = world.tips[0][2] + 0.75 * c.kite_line_out_m;
    let (wind, _) = world.air.at(z);
    let v = norm(sub(wind, world.boat_velocity));
    let (cl, _, _, _) = rig.trim_at(v);
    let lift_n = 0.5 * p.air_density * p.kite.area_m2 * cl * v * v;
    let weight_n = GRAVITY_MPS2
        * (p.kite.mass_kg
            + super::parameters::CLIP_MASS_KG
            + c.kite_line_out_m * p.kite_line.mass_per_m_kg);
    if lift_n <= weight_n {
        return Err(NoTrim::TooLittleWind {
            apparent_mps: v,
            lift_n,
            weight_n,
        });
    }
    Ok(())
}

fn converged(b: &Balance) -> bool {
    b.residual_n < RESIDUAL_N
        && b.move_m < MOVE_M * 1e2
        && b.ring_gap_n < 1e-6
        && b.height_gap_m.abs() < 1e-9
}

fn newton(
    rig: &Rig,
    world: &World<'_>,
    guess: &mut Guess,
    sought: Sought,
    work: &mut Work,
    steps: &mut u32,
) -> Result<Balance, NoTrim> {
    let motion = Motion::still();
    let mut last = Balance::default();
    for _ in 0..NEWTON_STEPS {
        *steps += 1;
        last = newton_step(
            rig,
            world,
            &motion,
            &mut guess.shape,
            &mut guess.main_line_m,
            sought,
            15.0,
            work,
        );
        if !last.is_finite()
            || guess.main_line_m > 2.0 * LONGEST_FORMAL_M
            || guess.main_line_m < 1.0
        {
            break;
        }
        if converged(&last) {
            return Ok(last);
        }
    }
    Err(NoTrim::NotConverged {
        steps: *steps,
        residual_n: last.residual_n,
    })
}

/// Lets the rig settle in its own damping with growing steps, then closes with Newton.
fn settle(
    rig: &Rig,
    world: &World<'_>,
    guess: &mut Guess,
    sought: Sought,
    work: &mut Work,
    steps: &mut u32,
) -> Result<Balance, NoTrim> {
    let mut motion = Motion::still();
    let mut dt = 0.1;
    let mut last = Balance::default();
    for _ in 0..SETTLING_STEPS {
        *steps += 1;
        motion.rate = 1.0 / dt;
        for (rest, x) in motion.velocity_rest.iter_mut().zip(&guess.shape.x) {
            *rest = scale(*x, -motion.rate);
        }
        let before = guess.shape.clone();
        let line_before = guess.main_line_m;
        let mut moved = 0.0;
        for _ in 0..3 {
            last = newton_step(
                rig,
                world,
                &motion,
                &mut guess.shape,
                &mut guess.main_line_m,
                sought,
                5.0,
                work,
            );
            moved = last.move_m;
            if !last.is_finite() || moved < 1e-3 {
                break;
            }
        }
        if !last.is_finite()
            || guess.main_line_m < 1.0
            || guess.main_line_m > 2.0 * LONGEST_FORMAL_M
        {
            guess.shape = before;
            guess.main_line_m = line_before;
            dt *= 0.1;
            if dt < 1e-4 {
                break;
            }
            continue;
        }
        if moved < 0.5 {
            dt *= 1.7;
        } else {
            dt = (dt * 0.5).max(1e-3);
        }
        if dt > 200.0 {
            let mut attempt = Guess {
                shape: guess.shape.clone(),
                main_line_m: guess.main_line_m,
            };
            if let Ok(b) = newton(rig, world, &mut attempt, sought, work, steps) {
                *guess = attempt;
                return Ok(b);
            }
            dt = 20.0;
        }
    }
    Err(NoTrim::NotConverged {
        steps: *steps,
        residual_n: last.residual_n,
    })
}

/// A shape near balance: the hanging leg marched up from the bait, straight lines elsewhere.
fn first_guess(rig: &Rig, world: &World<'_>, immersion: f64) -> Guess {
    let p = rig.parameters();
    let mesh = rig.mesh;
    let chains = mesh.chains();
    let vb = world.boat_velocity;
    let kite_line = world.kite_line_m;
    let below = kite_line - p.kite_line.clip_to_kite_m;
    let z_bait = p.bait.height_m * (0.5 - immersion);
    let bait_pull = scale(rig.bait_force(&world.air, z_bait, vb).force, -1.0);

    // Load of a piece of main line in direction `along` at height z.
    let load = |along: V3, z: f64, length: f64| -> V3 {
        let (wind, _) = world.air.at(z);
        let v = sub(wind, vb);
        let vn = sub(v, scale(along, super::vector::dot(v, along)));
        let mut f = scale(vn, rig.main_line_drag * length * norm(vn));
        f[2] -= p.main_line.mass_per_m_kg * GRAVITY_MPS2 * length;
        f
    };
    // One march from the bait up; calls back with place and force at every node.
    let march =
        |hang_piece: f64, most: usize, stop_z: f64, each: &mut dyn FnMut(usize, V3, f64)| {
            let mut x = [0.0, 0.0, z_bait];
            let mut pull = bait_pull;
            let mut length = 0.0;
            each(0, x, norm(pull));
            for j in 0..most {
                let l = if j < mesh.leader_pieces() {
                    p.marker.above_bait_m / mesh.leader()
                } else {
                    hang_piece
                };
                if j == mesh.leader_pieces() {
                    pull = sub(pull, rig.marker_force(&world.air, x[2], vb).force);
                }
                let t = norm(pull).max(1e-3);
                let mut along = scale(pull, 1.0 / t);
                let half = load(along, x[2], 0.5 * l);
                let middle = sub(pull, half);
                along = scale(middle, 1.0 / norm(middle).max(1e-3));
                x = add(x, scale(along, l));
                pull = sub(pull, load(along, x[2], l));
                length += l;
                each(j + 1, x, norm(middle));
                if x[2] > stop_z {
                    break;
                }
            }
            (x, pull, length)
        };

    let mut kite_pull = rig
        .kite_force(&world.air, world.tips[0][2] + 0.75 * kite_line, vb)
        .force;
    let mut clip = world.tips[0];
    let mut reach = (0.0, [0.0; 3], 1.0);
    let mut low_pull = kite_pull;
    for _ in 0..3 {
        let n = norm(low_pull).max(1e-6);
        let mut along = scale(low_pull, 1.0 / n);
        along[2] = along[2].max(0.2);
        clip = add(world.tips[0], scale(along, below / norm(along)));
        let (top, pull, length) = march(2.0, 400, clip[2], &mut |_, _, _| {});
        reach = (length, top, norm(pull));
        let reel = sub(world.tips[1], clip);
        let load = sub(scale(reel, norm(pull) / norm(reel).max(1e-6)), pull);
        let kite_z =
            clip[2] + p.kite_line.clip_to_kite_m * kite_pull[2] / norm(kite_pull).max(1e-6);
        kite_pull = rig.kite_force(&world.air, kite_z, vb).force;
        low_pull = add(kite_pull, load);
    }
    let (mut length, top, ring_tension) = reach;
    // The march overshoots by part of a piece; a line that never got up there is taken straight.
    if top[2] > clip[2] {
        length -= (top[2] - clip[2]).min(2.0);
    } else {
        length = 2.0 * clip[2];
    }
    let hang_m = (length - p.marker.above_bait_m).max(5.0);
    let mut shape = Shape::empty();
    let hang = &chains[HANG];
    let mut places = [[0.0; 3]; super::mesh::MAX_NODES + 1];
    let mut tensions = [0.0; super::mesh::MAX_NODES + 1];
    let mut top_node = [0.0; 3];
    march(
        hang_m / mesh.hang(),
        hang.nodes,
        f64::INFINITY,
        &mut |j, x, t| {
            if let (Some(place), Some(tension)) = (places.get_mut(j), tensions.get_mut(j)) {
                *place = x;
                *tension = t;
            }
            top_node = x;
        },
    );
    let shift = sub(clip, top_node);
    for j in 0..hang.nodes {
        // Shifted sideways as a whole, stretched in height to meet the clip.
        let share = (places[j][2] - z_bait) / (top_node[2] - z_bait).max(1.0);
        shape.x[hang.first + j] = [
            places[j][0] + shift[0],
            places[j][1] + shift[1],
            places[j][2] + shift[2] * share,
        ];
        shape.tension[hang.first_piece + j] = tensions[j + 1];
    }
    let straight = |shape: &mut Shape, which: usize, from: V3, to: V3, tension: f64| {
        let c = &chains[which];
        let pieces = c.pieces();
        for j in 0..c.nodes {
            let share = (j + usize::from(c.anchored)) as f64 / pieces as f64;
            shape.x[c.first + j] = add(from, scale(sub(to, from), share));
        }
        for t in &mut shape.tension[c.first_piece..c.first_piece + pieces] {
            *t = tension;
        }
    };
    let up = norm(kite_pull).max(1e-6);
    let kite = add(clip, scale(kite_pull, p.kite_line.clip_to_kite_m / up));
    shape.x[mesh.clip()] = clip;
    straight(&mut shape, KITE_BELOW, world.tips[0], clip, norm(low_pull));
    straight(&mut shape, KITE_ABOVE, kite, clip, up);
    straight(&mut shape, REEL, world.tips[1], clip, ring_tension);
    shape.reel_leg_m = norm(sub(clip, world.tips[1])) * 1.003;
    Guess {
        main_line_m: shape.reel_leg_m + hang_m + p.marker.above_bait_m,
        shape,
    }
}
