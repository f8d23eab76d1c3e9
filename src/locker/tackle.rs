//! Lines, leader, band, ring, nose weight and reels: do they do for what is asked of them?
//! In: the locker, and what the best kite asks. Out: checks.

use super::check::{Check, Subject, Unit, metres, newtons};
use super::kite::Settled;
use super::parts::{Leader, Locker, NEWTONS_PER_LBF, Named, Reel, ReelOf};
use crate::rig::MainLineStuff;

/// What the best kite asks of the tackle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked<'a> {
    /// Settled with it; `None` when no kite flies.
    pub settled: Option<&'a Settled>,
    /// Kite line out, m.
    pub kite_line_out_m: f64,
}

/// Lightest main line worth flying: 130 lbf (common practice: 200 on the largest reels, 130 on
/// middle ones, nothing lighter on a kite, because the fish never sees the line).
const LIGHTEST_MAIN_LINE_LBF: f64 = 130.0;
/// Leader length: about 1.5 m by common practice; the bounds are an own margin.
const LEADER_M: [f64; 2] = [1.0, 2.5];
/// Nose weight: 85 g by common practice; the bounds, 2 to 4 oz, are an own margin.
const NOSE_WEIGHT_KG: [f64; 2] = [0.056, 0.114];

const DRAG_SHARE: &str =
    "drag_share of [locker] times the breaking strength (common practice: 25 to 30 %)";
const STRIKE_DRAG: &str = "strike_drag_lbf of [locker] (common practice: 22 to 24 lbf)";
const HOOKED_DRAG: &str = "hooked_drag_lbf of [locker] (common practice: about 32 lbf)";

const fn drag(what: &'static str, value_from: &'static str) -> Subject {
    Subject {
        what,
        unit: Unit::Newtons,
        value_from,
        bounds_from: DRAG_SHARE,
    }
}

const LIGHTEST: Subject = Subject {
    what: "Breaking strength of the main line",
    unit: Unit::Newtons,
    value_from: "[rig.main_line]",
    bounds_from: "130 lbf is the lightest worth flying (common practice)",
};
const LEADER_LENGTH: Subject = Subject {
    what: "Leader length",
    unit: Unit::Metres,
    value_from: "the first [[locker.leader]]",
    bounds_from: "about 1.5 m (common practice), with an own margin",
};
const BAND: Subject = Subject {
    what: "Release band: a bite must break it before the reel gives line",
    unit: Unit::Newtons,
    value_from: "band_strength_n of [rig]",
    bounds_from: "load at the ring with the main line at strike_drag_lbf of [locker], its legs as the rig model has them",
};
const RING: Subject = Subject {
    what: "Ring's inner diameter against the swivel",
    unit: Unit::Millimetres,
    value_from: "ring_inner_mm of [locker]",
    bounds_from: "swivel_mm of [locker]: the ring must be larger (common practice)",
};
const NOSE_WEIGHT: Subject = Subject {
    what: "Nose weight",
    unit: Unit::Kilograms,
    value_from: "nose_weight_g of [locker]",
    bounds_from: "85 g (common practice), with an own margin of 2 to 4 oz",
};
const MAIN_REEL: Subject = Subject {
    what: "Main line to trim the bait, and for a fish that runs",
    unit: Unit::Metres,
    value_from: "rig model, the longer of mean wind and gust, and run_m of [locker]",
    bounds_from: "what the first main reel of [[locker.reel]] holds of this line",
};
const KITE_REEL: Subject = Subject {
    what: "Kite line out",
    unit: Unit::Metres,
    value_from: "the kite line looked at",
    bounds_from: "what the first kite reel of [[locker.reel]] holds of this line",
};

/// All checks of the tackle.
pub(super) fn tackle_checks(locker: &Locker, asked: Asked<'_>) -> Vec<Check> {
    let mut checks = main_line(locker);
    checks.extend(leader(locker));
    checks.push(band(locker, asked.settled));
    checks.extend(small_parts(locker));
    checks.extend(reels(locker, asked));
    checks
}

/// The two drags against the strength of a line, m.
fn drags(
    locker: &Locker,
    part: &str,
    strength_n: Option<f64>,
    what: [&'static str; 2],
    cure: &'static str,
    stronger: impl Fn(f64) -> Vec<String>,
) -> Vec<Check> {
    let tackle = &locker.tackle;
    [
        (drag(what[0], STRIKE_DRAG), tackle.strike_drag_n),
        (drag(what[1], HOOKED_DRAG), tackle.hooked_drag_n),
    ]
    .into_iter()
    .map(|(subject, drag_n)| match strength_n {
        Some(strength_n) => {
            let needed_n = drag_n / tackle.drag_share;
            subject
                .check(part, drag_n, None, Some(tackle.drag_share * strength_n))
                .or(cure, newtons(needed_n), stronger(needed_n))
        }
        None => subject.unknown(part).or(
            "give its breaking strength in the settings",
            None,
            Vec::new(),
        ),
    })
    .collect()
}

fn main_line(locker: &Locker) -> Vec<Check> {
    let strength_n = locker.flown.main_line.strength_n;
    let stronger = |needed_n: f64| {
        Locker::names(&locker.main_lines, |line: &MainLineStuff| {
            line.strength_n.is_some_and(|n| n >= needed_n)
        })
    };
    let mut checks = drags(
        locker,
        "main line",
        strength_n,
        [
            "Strike drag against the main line",
            "Hooked drag against the main line",
        ],
        "less drag, or a main line of at least this strength",
        stronger,
    );
    let lightest_n = LIGHTEST_MAIN_LINE_LBF * NEWTONS_PER_LBF;
    checks.extend(strength_n.map(|strength_n| {
        // A line labelled 130 lbf must not fail by rounding.
        LIGHTEST
            .check("main line", strength_n, Some(lightest_n * 0.999), None)
            .mild()
            .or(
                "a heavier main line: the fish never sees it",
                newtons(lightest_n),
                stronger(lightest_n),
            )
    }));
    checks
}

fn leader(locker: &Locker) -> Vec<Check> {
    let first = locker.leaders.first();
    let part = first.map_or("leader", |named| named.name.as_str());
    let mut checks = drags(
        locker,
        part,
        first.map(|named| named.part.strength_n),
        [
            "Strike drag against the leader",
            "Hooked drag against the leader",
        ],
        "less drag, or a leader of at least this strength",
        |needed_n| {
            Locker::names(&locker.leaders, |leader: &Leader| {
                leader.strength_n >= needed_n
            })
        },
    );
    checks.push(match first {
        Some(Named { part: leader, .. }) => LEADER_LENGTH
            .check(part, leader.length_m, Some(LEADER_M[0]), Some(LEADER_M[1]))
            .mild()
            .or("a leader of about this length", metres(1.5), Vec::new()),
        None => LEADER_LENGTH
            .unknown(part)
            .or("give a [[locker.leader]]", None, Vec::new()),
    });
    checks
}

/// The band must let go before the reel slips at the strike drag. Without friction in the ring both
/// legs carry the same tension, so the load on the band is in proportion to it.
fn band(locker: &Locker, settled: Option<&Settled>) -> Check {
    const PART: &str = "release band";
    let Some(strength_n) = locker.flown.band_strength_n else {
        return BAND
            .unknown(PART)
            .or("give band_strength_n in [rig]", None, Vec::new());
    };
    let Some(settled) = settled else {
        return BAND.unknown(PART);
    };
    let sample = &settled.mean.sample;
    let ring_n =
        locker.tackle.strike_drag_n * sample.ring_load_n / sample.main_line_tension_at_ring_n;
    let lighter = Locker::names(&locker.bands, |band| *band <= ring_n);
    BAND.check(PART, strength_n, None, Some(ring_n)).or(
        "a band that lets go at this load or below",
        newtons(ring_n),
        lighter,
    )
}

fn small_parts(locker: &Locker) -> [Check; 2] {
    let tackle = &locker.tackle;
    let ring = match (tackle.ring_inner_m, tackle.swivel_m) {
        (Some(ring_m), Some(swivel_m)) => RING
            .check("ring", ring_m * 1e3, Some(swivel_m * 1e3), None)
            .or("a larger ring or a smaller swivel", None, Vec::new()),
        _ => RING.unknown("ring").or(
            "give ring_inner_mm and swivel_mm in [locker]",
            None,
            Vec::new(),
        ),
    };
    let nose = match tackle.nose_weight_kg {
        Some(nose_kg) => {
            let [least, most] = NOSE_WEIGHT_KG;
            NOSE_WEIGHT
                .check("bait", nose_kg, Some(least), Some(most))
                .mild()
                .or(
                    "a nose weight near 85 g; a light one lets the bait tumble, a heavy one asks more of the kite",
                    None,
                    Vec::new(),
                )
        }
        None => NOSE_WEIGHT
            .unknown("bait")
            .or("give nose_weight_g in [locker]", None, Vec::new()),
    };
    [ring, nose]
}

fn reels(locker: &Locker, asked: Asked<'_>) -> Vec<Check> {
    let longest_m = asked.settled.map(|settled| {
        let gust_m = settled.gust.as_ref().map_or(0.0, |gust| gust.main_line_m);
        settled.mean.main_line_m.max(gust_m) + locker.tackle.run_m
    });
    let main = reel(
        locker,
        MAIN_REEL,
        ReelOf::Main,
        locker.flown.main_line.diameter_m,
        longest_m,
    );
    let kite = reel(
        locker,
        KITE_REEL,
        ReelOf::Kite,
        locker.flown.kite_line.diameter_m,
        Some(asked.kite_line_out_m),
    );
    vec![main, kite]
}

fn reel(
    locker: &Locker,
    subject: Subject,
    of: ReelOf,
    diameter_m: f64,
    needed_m: Option<f64>,
) -> Check {
    let first = locker.reels.iter().find(|named| named.part.of == of);
    let general = match of {
        ReelOf::Kite => "kite reel",
        ReelOf::Main => "main reel",
    };
    let part = first.map_or(general, |named| named.name.as_str());
    match (first, needed_m) {
        (Some(reel), Some(needed_m)) => {
            let holds = |reel: &Reel| reel.of == of && reel.spool.holds_m(diameter_m) >= needed_m;
            let holds_m = reel.part.spool.holds_m(diameter_m);
            subject.check(part, needed_m, None, Some(holds_m)).or(
                "a reel that holds this much, a thinner line or less line out",
                metres(needed_m),
                Locker::names(&locker.reels, holds),
            )
        }
        (None, _) => subject
            .unknown(part)
            .or("give its reel in [[locker.reel]]", None, Vec::new()),
        (Some(_), None) => subject.unknown(part),
    }
}
