//! Other lines, baits and markers of the locker under the best kite.
//! In: the locker, the best kite, the day. Out: what each would change.

use serde::Serialize;
use utoipa::ToSchema;

use super::check::Verdict;
use super::day::Day;
use super::kite::{load_checks, settle, with_kite};
use super::parts::Locker;
use crate::rig::{Kite, RigParameters};

/// One part of the locker in place of the one in use, all else as it is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Swap {
    /// Its place in the rig.
    pub place: &'static str,
    /// Its name.
    pub name: String,
    /// Good: flies in mean wind and gust with all parts within their shares. Watch: not all of it.
    /// Wrong: not in the mean wind.
    pub verdict: Verdict,
    /// Why it cannot be fished in the mean wind; `null` when it can.
    pub cannot: Option<String>,
    /// Elevation in the mean wind.
    pub elevation_deg: Option<f64>,
    /// Main line that trims the bait in the mean wind.
    pub main_line_m: Option<f64>,
}

/// Every part of the locker that would change how the rig hangs.
pub(super) fn swaps(locker: &Locker, day: &Day, kite: &Kite) -> Vec<Swap> {
    let base = with_kite(locker, kite);
    let mut swaps = Vec::new();
    let mut add = |place, name: &str, change: &dyn Fn(&mut RigParameters)| {
        let mut parameters = base.clone();
        change(&mut parameters);
        swaps.push(swap(locker, day, place, name, &parameters));
    };
    for named in &locker.kite_lines {
        add("kite line", &named.name, &|p| p.kite_line = named.part);
    }
    for named in &locker.main_lines {
        add("main line", &named.name, &|p| p.main_line = named.part);
    }
    for named in &locker.markers {
        add("marker", &named.name, &|p| p.marker = named.part);
    }
    for named in &locker.baits {
        add("bait", &named.name, &|p| p.bait = named.part);
    }
    swaps
}

fn swap(
    locker: &Locker,
    day: &Day,
    place: &'static str,
    name: &str,
    parameters: &RigParameters,
) -> Swap {
    let settled = settle(parameters, day);
    let verdict = match &settled {
        Err(_) => Verdict::Wrong,
        Ok(settled) => {
            let whole = load_checks(locker, parameters, settled)
                .iter()
                .all(|check| check.verdict != Verdict::Wrong);
            if whole && settled.gust_fails.is_none() {
                Verdict::Good
            } else {
                Verdict::Watch
            }
        }
    };
    let mean = settled.as_ref().ok().map(|settled| &settled.mean);
    Swap {
        place,
        name: name.to_owned(),
        verdict,
        cannot: settled.as_ref().err().map(ToString::to_string),
        elevation_deg: mean.map(|mean| mean.sample.kite_elevation_rad.to_degrees()),
        main_line_m: mean.map(|mean| mean.main_line_m),
    }
}
