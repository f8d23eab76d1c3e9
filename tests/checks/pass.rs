//! Passes planned with one rig and flown with another, in the whole model.
//!
//! `SEEDS=17,200 cargo test --test checks pass_is_honest -- --nocapture` flies 200 invented marks of
//! seed 17 (`pass_world.rs`) and prints the tables. The habit beside it: steer the boat at the mark,
//! lines as they are.

use rayon::prelude::*;
use skimwatch::pass::{LIKELY, NEAR_M, SKIPS_SHARE, amend, plan};

use crate::pass_flights::{Outcome, fly_habit, fly_plan};
use crate::pass_world::{invented, situation};

#[derive(Debug)]
struct Case {
    number: u64,
    chance: Option<f64>,
    refused: Option<String>,
    flown: Outcome,
    habit: Outcome,
    took_s: f64,
}

fn case(seed: u64, n: u64) -> Option<Case> {
    let (truth, seen) = invented(seed, n)?;
    let sit = situation(
        &truth,
        &seen,
        &seen.rigs,
        [0.0; 2],
        truth.heading_rad,
        truth.speed_mps,
        12.0,
    );
    let started = std::time::Instant::now();
    let found = plan(&sit);
    let took_s = started.elapsed().as_secs_f64();
    let habit = fly_habit(&truth);
    Some(match found {
        Ok(plan) => Case {
            number: n,
            chance: Some(plan.judged.chance),
            refused: None,
            flown: fly_plan(&truth, &seen, &plan),
            habit,
            took_s,
        },
        Err(refusal) => Case {
            number: n,
            chance: None,
            refused: Some(refusal.why),
            flown: Outcome::default(),
            habit,
            took_s,
        },
    })
}

fn good(o: &Outcome) -> bool {
    o.miss_m <= NEAR_M && o.skipping >= SKIPS_SHARE
}

/// A seed and a number of moments, as asked for in this variable.
pub fn seeds(variable: &str, usual: (u64, usize)) -> (u64, usize) {
    let asked = std::env::var(variable).ok();
    let parts: Option<(u64, usize)> = asked.and_then(|text| {
        let (seed, count) = text.split_once(',')?;
        Some((seed.parse().ok()?, count.parse().ok()?))
    });
    parts.unwrap_or(usual)
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

#[test]
fn pass_is_honest() {
    let (seed, count) = seeds("SEEDS", (17, 6));
    let mut cases: Vec<Case> = Vec::new();
    let mut next = 0;
    while cases.len() < count {
        let wanted = (count - cases.len()) as u64;
        let found: Vec<Option<Case>> = (next..next + wanted)
            .into_par_iter()
            .map(|n| case(seed, n))
            .collect();
        next += wanted;
        cases.extend(found.into_iter().flatten());
    }
    let offered: Vec<&Case> = cases.iter().filter(|c| c.chance.is_some()).collect();
    println!(
        "{} moments, {} offered, planning took {:.2} s in the middle, {:.2} s at most",
        cases.len(),
        offered.len(),
        middle(cases.iter().map(|c| c.took_s).collect()),
        cases.iter().map(|c| c.took_s).fold(0.0, f64::max)
    );
    for case in &offered {
        println!(
            "case {}: chance {:.2}, closest {:.0} m, skipping {:.2}",
            case.number,
            case.chance.unwrap(),
            case.flown.miss_m,
            case.flown.skipping
        );
    }
    println!("chance      passes  promised  kept");
    for (low, high) in [(0.5, 0.6), (0.6, 0.7), (0.7, 0.8), (0.8, 0.9), (0.9, 1.0)] {
        let bin: Vec<&&Case> = offered
            .iter()
            .filter(|c| (low..high).contains(&c.chance.unwrap()))
            .collect();
        let n = bin.len().max(1) as f64;
        println!(
            "{low:.2}-{high:.2}  {:6}  {:8.2}  {:.2}   near {:.2} skips {:.2}",
            bin.len(),
            bin.iter().map(|c| c.chance.unwrap()).sum::<f64>() / n,
            bin.iter().filter(|c| good(&c.flown)).count() as f64 / n,
            bin.iter().filter(|c| c.flown.miss_m <= NEAR_M).count() as f64 / n,
            bin.iter()
                .filter(|c| c.flown.skipping >= SKIPS_SHARE)
                .count() as f64
                / n
        );
    }
    let likely: Vec<&&Case> = offered
        .iter()
        .filter(|c| c.chance.unwrap() >= LIKELY)
        .collect();
    let kept = likely.iter().filter(|c| good(&c.flown)).count();
    println!("likely: {kept} of {}", likely.len());
    for (name, of) in [
        ("plan", (|c: &Case| c.flown) as fn(&Case) -> Outcome),
        ("habit", |c| c.habit),
    ] {
        let flown: Vec<Outcome> = offered.iter().map(|c| of(c)).collect();
        let near = flown.iter().filter(|o| o.miss_m <= NEAR_M).count();
        let skips = flown.iter().filter(|o| o.skipping >= SKIPS_SHARE).count();
        println!(
            "{name}: closest {:.0} m in the middle, within 15 m {near}, skipping {skips}, both {} of {}",
            middle(flown.iter().map(|o| o.miss_m).collect()),
            flown.iter().filter(|o| good(o)).count(),
            flown.len()
        );
    }
    let mut whys: std::collections::BTreeMap<&str, usize> = Default::default();
    for why in cases.iter().filter_map(|c| c.refused.as_deref()) {
        *whys.entry(why).or_default() += 1;
    }
    println!("{whys:#?}");
    assert!(!offered.is_empty(), "none of {} is offered", cases.len());
    let promised: f64 = offered.iter().filter_map(|c| c.chance).sum();
    let kept = offered.iter().filter(|c| good(&c.flown)).count() as f64;
    // Three standard deviations of as many coins.
    let slack = 1.5 * (offered.len() as f64).sqrt();
    assert!(
        (promised - kept).abs() <= slack,
        "promised {promised:.1}, kept {kept}"
    );
    let plan_good = offered.iter().filter(|c| good(&c.flown)).count();
    let habit_good = offered.iter().filter(|c| good(&c.habit)).count();
    assert!(plan_good >= habit_good, "{plan_good} against {habit_good}");
}

/// A plan says so when the limits shrink under a turn that it has ordered.
#[test]
fn a_turn_beyond_limits_that_have_shrunk_is_called_so() {
    let planned = (0..40).find_map(|n| {
        let (truth, seen) = invented(17, n)?;
        let (heading, speed) = (truth.heading_rad, truth.speed_mps);
        let sit = situation(&truth, &seen, &seen.rigs, [0.0; 2], heading, speed, 12.0);
        let plan = plan(&sit)
            .ok()
            .filter(|plan| !plan.course.legs.is_empty())?;
        assert!(!plan.beyond_limits);
        let with = |limit| {
            let mut other = sit;
            other.bounds.rate_rad_s = [limit; 2];
            amend(&other, &plan.course, plan.judged.at_s).beyond_limits
        };
        Some([with(sit.bounds.rate_rad_s[0]), with(Some(0.01)), with(None)])
    });
    assert_eq!(planned, Some([false, true, true]));
}
