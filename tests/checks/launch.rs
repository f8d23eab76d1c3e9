//! Launches in the model, step by step as printed, by hands that are off.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use skimwatch::launch::{BaitDoes, Launch, Path, Step, launch};
use skimwatch::locker::{Day, Locker, NEWTONS_PER_LBF};
use skimwatch::rig::presets::{bait, braid};
use skimwatch::rig::{
    Conditions, Kite, KiteLine, LineLengths, MainLine, Marker, Rig, RigParameters, Run, RunEnd,
    Sample, State, loads, settled_state,
};
use skimwatch::units::KNOT_MPS;

/// How far off the hands are in every amount and every pace.
const OFF: f64 = 0.2;
/// Time in which a crew looks before it judges, s.
const LOOK_S: f64 = 15.0;

/// A rig and a day (invented).
fn drawn(random: &mut ChaCha8Rng) -> (Locker, Day) {
    let mut between = |least: f64, most: f64| random.random_range(least..most);
    let kite_line = braid(between(50.0, 150.0) * NEWTONS_PER_LBF);
    let flown = RigParameters {
        kite: Kite {
            area_m2: between(0.5, 2.6),
            mass_kg: between(0.28, 0.5),
            cl: between(0.6, 0.85),
            cd: between(0.38, 0.5),
            trim: Vec::new(),
        },
        kite_line: KiteLine {
            clip_to_kite_m: between(10.0, 25.0),
            diameter_m: kite_line.diameter_m,
            mass_per_m_kg: kite_line.mass_per_m_kg,
            strength_n: kite_line.strength_n,
        },
        main_line: braid(between(130.0, 200.0) * NEWTONS_PER_LBF),
        marker: Marker {
            above_bait_m: between(5.0, 9.0),
            diameter_m: between(0.2, 0.3),
            mass_kg: 0.006,
        },
        bait: bait(between(0.25, 0.38)),
        band_strength_n: Some(between(40.0, 80.0)),
        ..RigParameters::default()
    };
    let wind_mps = between(9.0, 18.0) * KNOT_MPS;
    let day = Day {
        wind_mps,
        gust_mps: wind_mps * between(1.1, 1.5),
        speed_mps: between(4.5, 7.0) * KNOT_MPS,
        off_bow_deg: between(20.0, 120.0),
        kite_line_out_m: between(70.0, 120.0),
    };
    (Locker::of(flown), day)
}

/// What a crew does, and what came of it so far.
struct Deck<'r> {
    rig: &'r Rig,
    locker: &'r Locker,
    conditions: Conditions,
    path: Path,
    state: State,
    random: ChaCha8Rng,
    highest_m: f64,
    overloaded: bool,
}

impl Deck<'_> {
    /// An amount or a pace, as these hands do it.
    fn off(&mut self) -> f64 {
        if self.random.random_bool(0.5) {
            1.0 + OFF
        } else {
            1.0 - OFF
        }
    }

    /// Moves both lines by so much and looks; gives what was seen at last.
    fn go(&mut self, kite_m: f64, main_m: f64, over_s: f64) -> Result<(Sample, f64), RunEnd> {
        let (_, lines) = self.path.end();
        let over_s = over_s / self.off();
        let to = LineLengths {
            kite_m: lines.kite_m + kite_m * self.off(),
            main_m: lines.main_m + main_m * self.off(),
        };
        self.path.go(over_s, to);
        self.path.rest(LOOK_S);
        let (end_s, _) = self.path.end();
        let mut run = Run::new(self.rig, &self.path, self.state.clone(), 0.0);
        let (mut seen, mut samples, mut t_s) = (0.0, 0.0, 0.0);
        loop {
            t_s = f64::min(t_s + 0.5, end_s);
            let sample = run.advance_to(t_s)?;
            self.highest_m = self.highest_m.max(sample.bait_height_m);
            for load in loads(self.rig, &sample).into_iter().flatten() {
                let share = match load.limit {
                    skimwatch::rig::Limit::Band => self.locker.release_share,
                    _ => self.locker.overload_share,
                };
                self.overloaded |= load.share > share;
            }
            if t_s > end_s - 5.0 {
                seen += sample.immersion;
                samples += 1.0;
            }
            if t_s >= end_s {
                self.state = run.state();
                self.path = Path::new(self.conditions, to);
                return Ok((sample, seen / samples));
            }
        }
    }

    /// Moves the main line while the bait flies or drags, so often at most; gives what it does then.
    fn nudge(
        &mut self,
        nudge_m: f64,
        mut seen: (Sample, f64),
        times: u32,
    ) -> Result<BaitDoes, RunEnd> {
        let above_m = self.rig.parameters().marker.above_bait_m;
        for _ in 0..times {
            let (sample, immersion) = &seen;
            let by_m = match BaitDoes::of(*immersion) {
                BaitDoes::Skips => break,
                BaitDoes::Flies => nudge_m,
                // The marker is near the ring: it waits.
                BaitDoes::Drags if sample.hang_leg_m < above_m + 1.5 + 1.2 * nudge_m => break,
                BaitDoes::Drags => -nudge_m,
            };
            seen = self.go(0.0, by_m, nudge_m)?;
        }
        Ok(BaitDoes::of(seen.1))
    }
}

/// The immersion at which the rig settles with the clip just out.
fn first_immersion(rig: &Rig, at: &Conditions) -> f64 {
    let settles = |s: &f64| settled_state(rig, at, MainLine::Immersion(*s), None).is_ok();
    [0.25, 0.4, 0.6, 0.8, 0.9]
        .into_iter()
        .find(settles)
        .unwrap()
}

/// Follows the steps; gives what the bait does at the end, its greatest height, and whether a part
/// was overloaded.
fn followed(
    locker: &Locker,
    day: &Day,
    plan: &Launch,
    seed: u64,
) -> Result<(BaitDoes, f64, bool), String> {
    let rig = Rig::new(&locker.flown).unwrap();
    let conditions = day.conditions(day.wind_mps);
    let random = ChaCha8Rng::seed_from_u64(seed);
    let mut steps = plan.steps.iter().filter_map(|step: &Step| step.lines);
    let first = steps.next().unwrap();
    let at = Conditions {
        kite_line_out_m: first.kite_line_out_m,
        ..conditions
    };
    let start = settled_state(
        &rig,
        &at,
        MainLine::Immersion(first_immersion(&rig, &at)),
        None,
    )
    .map_err(|why| format!("start: {why}"))?;
    let lines = LineLengths {
        kite_m: first.kite_line_out_m,
        main_m: start.main_line_m,
    };
    let mut deck = Deck {
        rig: &rig,
        locker,
        conditions,
        path: Path::new(conditions, lines),
        state: start.state,
        random,
        highest_m: 0.0,
        overloaded: false,
    };
    // The clip a little further out or nearer than printed, and the bait too.
    let off = deck.off() - 1.0;
    let main_m = (deck.off() - 1.0).max(0.0) * first.main_by_m;
    deck.go(off * first.kite_by_m, main_m, 5.0)
        .map_err(|end| end.to_string())?;
    let mut bait = BaitDoes::Drags;
    for lines in steps {
        let is_last = lines.kite_by_m == 0.0;
        let seen = deck
            .go(lines.kite_by_m, lines.main_by_m, lines.over_s)
            .map_err(|end| end.to_string())?;
        bait = deck
            .nudge(lines.nudge_m, seen, if is_last { 12 } else { 4 })
            .map_err(|end| end.to_string())?;
    }
    Ok((bait, deck.highest_m, deck.overloaded))
}

#[test]
fn hands_that_are_off_end_with_a_skipping_bait() {
    for seed in [17, 1, 2, 3] {
        thirty_launches(seed);
    }
}

fn thirty_launches(seed: u64) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (mut launched, mut skipping) = (0, 0);
    for number in 0..30 {
        let (locker, day) = drawn(&mut random);
        let plan = match launch(&locker, &day) {
            Ok(plan) => plan,
            Err(none) => {
                println!("{number}: {none}");
                assert!(none.why.len() > 10, "{number}");
                continue;
            }
        };
        launched += 1;
        let found = followed(&locker, &day, &plan, 100 * seed + number);
        println!(
            "{number}: {:.1} m/s, {} steps, {:.0} s, plan {:.1} m: {found:?}",
            day.wind_mps,
            plan.steps.len(),
            plan.takes_s,
            plan.highest_bait_m,
        );
        if let Ok((bait, highest_m, overloaded)) = found {
            skipping += u32::from(bait == BaitDoes::Skips);
            assert!(highest_m < 15.0, "{number}: {highest_m}");
            assert!(!overloaded, "{number}");
        }
    }
    println!("seed {seed}: {skipping} of {launched} skip");
    assert!(launched >= 15, "{launched}");
    assert!(f64::from(skipping) >= 0.9 * f64::from(launched));
}

fn fair() -> (Locker, Day) {
    let mut flown = RigParameters::default();
    flown.kite_line.strength_n = Some(80.0 * NEWTONS_PER_LBF);
    let day = Day {
        wind_mps: 7.0,
        gust_mps: 9.0,
        speed_mps: 3.0,
        off_bow_deg: 60.0,
        kite_line_out_m: 100.0,
    };
    (Locker::of(flown), day)
}

#[test]
fn steps_begin_with_cautions_and_end_trimmed_with_the_kite_line_wanted() {
    let (locker, day) = fair();
    let plan = launch(&locker, &day).unwrap();
    let first = &plan.steps[0];
    for word in [
        "Aircraft",
        "power lines",
        "aerials",
        "lightning",
        "traffic",
        "look-out",
        "Local rules",
    ] {
        assert!(first.what.contains(word), "{word}");
    }
    assert!(plan.steps[1].title.contains("Lanyard"));
    let lines: Vec<_> = plan.steps.iter().filter_map(|step| step.lines).collect();
    for pair in lines.windows(2) {
        // What is out after a step is what was out before it and what runs out in it.
        for (before, by, after) in [
            (
                pair[0].kite_line_out_m,
                pair[1].kite_by_m,
                pair[1].kite_line_out_m,
            ),
            (
                pair[0].main_line_out_m,
                pair[1].main_by_m,
                pair[1].main_line_out_m,
            ),
        ] {
            assert!((before + by - after).abs() < 1e-9, "{before} {by} {after}");
            assert!(by >= 0.0, "{by}");
        }
        // Hands and model agree on the pace.
        assert!(pair[1].kite_by_m <= 1.5 * pair[1].over_s + 1e-9);
        assert!(pair[1].main_by_m <= 1.5 * pair[1].over_s + 1e-9);
        assert!((1.0..=8.0).contains(&pair[1].nudge_m));
    }
    let last = plan.steps.last().unwrap();
    assert_eq!(last.lines.unwrap().kite_line_out_m, 100.0);
    assert_eq!(last.expected.unwrap().bait, BaitDoes::Skips);
    // The main line that trims the settled rig.
    let rig = Rig::new(&locker.flown).unwrap();
    let settled = settled_state(&rig, &day.conditions(7.0), MainLine::Immersion(0.25), None);
    let main_m = settled.unwrap().main_line_m;
    assert!((last.lines.unwrap().main_line_out_m - main_m).abs() < 1e-6);
    assert!(plan.highest_bait_m < 5.0);
}

#[test]
fn no_launch_says_why() {
    let (locker, day) = fair();
    let calm = Day {
        wind_mps: 1.0,
        gust_mps: 1.2,
        ..day
    };
    let why = launch(
        &locker,
        &Day {
            speed_mps: 1.0,
            ..calm
        },
    )
    .unwrap_err()
    .why;
    assert!(why.contains("too little wind"), "{why}");
    let mut weak = locker.clone();
    weak.flown.kite_line.strength_n = Some(100.0);
    let why = launch(&weak, &day).unwrap_err().why;
    assert!(
        why.contains("kite line") && why.contains("smaller kite"),
        "{why}"
    );
    let short = Day {
        kite_line_out_m: 20.0,
        ..day
    };
    let why = launch(&locker, &short).unwrap_err().why;
    assert!(why.contains("clip to kite"), "{why}");
    // Gusts so far above the mean that the lulls between them are too light.
    let mut heavy = locker;
    heavy.flown.kite.mass_kg = 1.2;
    heavy.flown.kite_line.strength_n = None;
    let gusty = Day {
        wind_mps: 5.5,
        gust_mps: 8.5,
        speed_mps: 2.0,
        ..day
    };
    let why = launch(&heavy, &gusty).unwrap_err().why;
    assert!(why.contains("in the lulls"), "{why}");
}
