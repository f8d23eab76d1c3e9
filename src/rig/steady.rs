//! Settled states: the rig as it hangs beside a boat that has held course and speed.
//! In: rig, conditions, main line out or the immersion wanted. Out: the settled sample with its
//! force residual, or why no crew could use such a trim. Knows no time.
//!
//! Newton's method on the forces of the moving rig, from a first guess that integrates the hanging
//! leg upward from the bait, where the force is known, to the clip. When Newton's method fails,
//! pseudo-transient continuation (Kelley and Keyes 1998, SIAM J. Numer. Anal. 35, 508-523: citation
//! from memory) with growing steps precedes it.

use thiserror::Error;

use super::air::{Current, Profile, Wind};
use super::assembly::Work;
use super::conditions::{BoatMotion, Conditions, LinesOut, Moment, Timeline};
use super::first_guess::{Guess, first_guess};
use super::parameters::{GRAVITY_MPS2, Rig, RigError};
use super::run::Run;
use super::sample::{Sample, State, sample};
use super::shape::{Motion, World};
use super::system::{Balance, Sought, newton_step};
use super::vector::{norm, sub};

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
/// Longest formal solution that is searched for.
const LONGEST_FORMAL_M: f64 = 1500.0;

/// Force residual a settled state must reach, N.
const RESIDUAL_N: f64 = 1e-7;
const MOVE_M: f64 = 1e-8;
const NEWTON_STEPS: u32 = 60;
/// How fast line is given or taken while settling, m/s, and how long it then rests, s.
const SETTLING_PACE_MPS: f64 = 2.0;
const SETTLING_TIMES_S: [f64; 4] = [20.0, 60.0, 180.0, 400.0];

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
    match unusable(&found, main_line) {
        Some(why) => Err(why),
        None => Ok(found),
    }
}

/// Why no crew could use this settled state.
pub(crate) fn unusable(found: &Steady, main_line: MainLine) -> Option<NoTrim> {
    let s = &found.sample;
    let trimmed = matches!(main_line, MainLine::Immersion(_));
    if s.kite_elevation_rad < LOWEST_KITE_RAD {
        return Some(NoTrim::KiteLow {
            elevation_deg: s.kite_elevation_rad.to_degrees(),
        });
    }
    if trimmed && found.main_line_m > LONGEST_MAIN_LINE_M {
        return Some(NoTrim::TooMuchLine {
            main_line_m: Some(found.main_line_m),
        });
    }
    if s.bait_aft_m < FORWARD_OF_BEAM * s.bait_starboard_m.abs() && s.bait_aft_m < -1.0 {
        return Some(NoTrim::BaitAhead {
            ahead_m: -s.bait_aft_m,
        });
    }
    (trimmed && s.line_wet_fraction > 0.0).then_some(NoTrim::LineInWater)
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

/// Immersion to which a skipping bait is trimmed: the middle of its band (the reference cases use
/// the same).
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
        * (p.kite.mass_kg
            + super::parameters::CLIP_MASS_KG
            + c.kite_line_out_m * p.kite_line.mass_per_m_kg);
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
    fn lines(&self, t_s: f64) -> LinesOut {
        let most = SETTLING_PACE_MPS * t_s.max(0.0);
        LinesOut {
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
