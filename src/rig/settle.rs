//! Finds settled states: Newton's method on the forces of the moving rig, from a first guess that
//! integrates the hanging leg upward from the bait, where the force is known, to the clip.
//! In: rig, conditions, what is given of the main line. Out: the settled state, or why none was
//! found.
//!
//! Where Newton's method fails from the first guess, continuation in the drag of the lines leads to
//! a solution: first with little wind on them, then with all of it. Where it fails for another
//! length of line, the line is let out or wound in over time and the rig comes to rest.

use super::air::{Current, Profile, Wind};
use super::assembly::Work;
use super::conditions::{Conditions, LineLengths, Moment, Timeline};
use super::first_guess::{Guess, first_guess};
use super::hull::BoatMotion;
use super::parameters::{CLIP_MASS_KG, GRAVITY_MPS2, Rig};
use super::run::Run;
use super::sample::{State, sample};
use super::shape::{Motion, World};
use super::system::{Balance, Sought, newton_step};
use super::trim::{LONGEST_MAIN_LINE_M, MainLine, NoTrim, Steady, TRIM_IMMERSION};
use super::vector::{norm, sub};

/// Longest formal solution that is searched for.
pub(super) const LONGEST_FORMAL_M: f64 = 1500.0;

/// Force residual a settled state must reach, N.
const RESIDUAL_N: f64 = 1e-7;
const MOVE_M: f64 = 1e-8;
const NEWTON_STEPS: u32 = 60;
/// How fast line is let out or wound in while settling, m/s, and how long the rig then rests, s.
const SETTLING_PACE_MPS: f64 = 2.0;
const SETTLING_TIMES_S: [f64; 4] = [20.0, 60.0, 180.0, 400.0];

/// The settled state, usable or not; numbers are checked already.
pub(super) fn settle(
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
        MainLine::Out(_) => TRIM_IMMERSION,
        MainLine::Immersion(s) => s,
    };
    let want = sought(first_s);
    let mut guess = first_guess(rig, &world, first_s);
    let mut balance = match newton(rig, &world, &mut guess, want, work, &mut steps) {
        Ok(r) => r,
        Err(_) => {
            let (g, r) = trim_by_steps(rig, &world, first_s, want, work, &mut steps)
                .map_err(|e| reason(rig, &world, conditions, e))?;
            guess = g;
            r
        }
    };
    if let MainLine::Out(m) = main_line {
        let trimmed = guess.clone();
        guess.main_line_m = m;
        balance = match newton(rig, &world, &mut guess, Sought::Places, work, &mut steps) {
            Ok(r) => r,
            Err(_) => {
                let (g, r) = settle_in_time(rig, &world, conditions, trimmed, m, work, &mut steps)?;
                guess = g;
                r
            }
        };
    }
    if guess.main_line_m > LONGEST_FORMAL_M {
        return Err(NoTrim::TooMuchLine { main_line_m: None });
    }
    finish(rig, conditions, &world, guess, balance)
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

/// Apparent wind and lift at the height the kite would have, and what it has to lift at least.
fn lift_and_load(rig: &Rig, world: &World<'_>, c: &Conditions) -> (f64, f64, f64) {
    let p = rig.parameters();
    let z = world.tips[0][2] + 0.75 * c.kite_line_out_m;
    let (wind, _) = world.air.at(z);
    let v = norm(sub(wind, world.boat_velocity));
    let (cl, _, _, _) = rig.trim_at(v);
    let lift_n = 0.5 * p.air_density * p.kite.area_m2 * cl * v * v;
    let weight_n = GRAVITY_MPS2
        * (p.kite.mass_kg + CLIP_MASS_KG + c.kite_line_out_m * p.kite_line.mass_per_m_kg);
    (v, lift_n, weight_n)
}

fn can_fly(rig: &Rig, world: &World<'_>, c: &Conditions) -> Result<(), NoTrim> {
    let (apparent_mps, lift_n, weight_n) = lift_and_load(rig, world, c);
    if lift_n <= weight_n {
        return Err(NoTrim::TooLittleWind {
            apparent_mps,
            lift_n,
            weight_n,
        });
    }
    Ok(())
}

/// Explains a failed trim where the cause is clear: each leg of the main line pulls the clip down
/// with the weight of the bait.
fn reason(rig: &Rig, world: &World<'_>, c: &Conditions, failed: NoTrim) -> NoTrim {
    let (apparent_mps, lift_n, own_n) = lift_and_load(rig, world, c);
    let weight_n = own_n + 2.0 * rig.parameters().bait.mass_kg * GRAVITY_MPS2;
    if lift_n < 1.5 * weight_n {
        NoTrim::TooLittleWind {
            apparent_mps,
            lift_n,
            weight_n,
        }
    } else {
        failed
    }
}

fn converged(b: &Balance) -> bool {
    b.residual_n < RESIDUAL_N
        && b.move_m < MOVE_M
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
    for step in 0..NEWTON_STEPS {
        *steps += 1;
        // Where pieces bend strongly the iteration oscillates: then each step is limited to part of
        // the last one.
        let limit_m = if step < 8 { 15.0 } else { 0.6 * last.move_m };
        last = newton_step(
            rig,
            world,
            &motion,
            &mut guess.shape,
            &mut guess.main_line_m,
            sought,
            limit_m,
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

/// Continuation for a trim where Newton's method fails from the first guess: first with little wind
/// on the lines, then with increasing wind, each solution starting from the one before.
fn trim_by_steps(
    rig: &Rig,
    world: &World<'_>,
    immersion: f64,
    sought: Sought,
    work: &mut Work,
    steps: &mut u32,
) -> Result<(Guess, Balance), NoTrim> {
    let mut eased = rig.clone();
    let mut share: f64 = 0.0;
    let mut stride: f64 = 0.2;
    let mut good: Option<Guess> = None;
    loop {
        let next = (share + stride).min(1.0);
        eased.kite_line_drag = rig.kite_line_drag * next;
        eased.main_line_drag = rig.main_line_drag * next;
        let mut attempt = good
            .clone()
            .unwrap_or_else(|| first_guess(&eased, world, immersion));
        match newton(&eased, world, &mut attempt, sought, work, steps) {
            Ok(r) if next >= 1.0 => return Ok((attempt, r)),
            Ok(_) => {
                good = Some(attempt);
                share = next;
                stride *= 1.5;
            }
            Err(e) => {
                stride *= 0.5;
                if stride < 0.01 {
                    // Less wind on the lines needs less line; when even that is too long, so is
                    // this.
                    return Err(match good {
                        Some(g) if g.main_line_m > LONGEST_MAIN_LINE_M => {
                            NoTrim::TooMuchLine { main_line_m: None }
                        }
                        _ => e,
                    });
                }
            }
        }
    }
}

/// Settled surroundings while line is given or taken.
struct Paying {
    moment: Moment,
    from_m: f64,
    to_m: f64,
}

impl Timeline for Paying {
    fn boat(&self, _t_s: f64) -> BoatMotion {
        self.moment.boat
    }
    fn wind(&self, _t_s: f64) -> Wind {
        self.moment.wind
    }
    fn current(&self, _t_s: f64) -> Current {
        self.moment.current
    }
    fn lines(&self, t_s: f64) -> LineLengths {
        let most = SETTLING_PACE_MPS * t_s.max(0.0);
        LineLengths {
            kite_m: self.moment.lines.kite_m,
            main_m: self.from_m + (self.to_m - self.from_m).clamp(-most, most),
        }
    }
}

/// When Newton's method does not converge for another length of line: gives or takes it over time,
/// lets the rig come to rest, and finishes with Newton's method.
fn settle_in_time(
    rig: &Rig,
    world: &World<'_>,
    conditions: &Conditions,
    from: Guess,
    to_m: f64,
    work: &mut Work,
    steps: &mut u32,
) -> Result<(Guess, Balance), NoTrim> {
    let timeline = Paying {
        moment: Moment::settled(conditions, from.main_line_m),
        from_m: from.main_line_m,
        to_m,
    };
    let paid_s = (to_m - from.main_line_m).abs() / SETTLING_PACE_MPS;
    let state = State::settled(from.shape, from.main_line_m, world.boat_velocity, rig.mesh);
    let mut failure = NoTrim::NotConverged {
        steps: *steps,
        residual_n: f64::NAN,
    };
    let mut run = Run::new(rig, timeline, state, 0.0);
    for rest_s in SETTLING_TIMES_S {
        let reached = run.advance_to(paid_s + rest_s);
        *steps += run.effort().1;
        if reached.is_err() {
            break;
        }
        let mut attempt = Guess {
            shape: run.state().shape,
            main_line_m: to_m,
        };
        match newton(rig, world, &mut attempt, Sought::Places, work, steps) {
            Ok(r) => return Ok((attempt, r)),
            Err(e) => failure = e,
        }
    }
    Err(failure)
}
