//! Settled states: the rig as it hangs beside a boat that has held course and speed.
//! In: rig, conditions, main line out or the immersion wanted. Out: the settled sample with its
//! force residual, or why no crew could use such a trim. Knows no time.

use super::air::Profile;
use super::assembly::Work;
use super::conditions::Conditions;
use super::parameters::{Gate, Rig};
use super::sample::State;
use super::settle::{LONGEST_FORMAL_M, settle};
use super::trim::{MainLine, NoTrim, Steady, TRIM_IMMERSION, unusable};

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
    settle(rig, conditions, main_line, hint, &profile, &mut work)
}

fn check(rig: &Rig, conditions: &Conditions, main_line: MainLine) -> Result<(), NoTrim> {
    conditions.check(rig).map_err(NoTrim::Refused)?;
    let mut gate = Gate::default();
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
