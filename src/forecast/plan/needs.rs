//! The main line that a heading needs: between just touching and nearly dragging, by the settled rig.
//!
//! The skipping band is wide, so a plan aims at the band on the coming heading, not at a point. For a
//! few futures, two settled main line lengths are found. The correction puts most of the weight
//! between the two. When the heading cannot be trimmed with the kite line that is out, kite line is
//! changed first.

use super::plainly::plainly;
use crate::forecast::futures::Ahead;
use crate::rig::{MainLine, NoTrim};

/// Border immersions of the band a plan aims at.
const BAND: (f64, f64) = (0.04, 0.55);
/// Kite line changes tried when main line alone finds no trim, share of what is out.
const KITE_TRIES: [f64; 2] = [-0.2, 0.2];

/// Main line between just touching and nearly dragging, as changes from now.
pub struct Needs {
    weight: f64,
    low_m: f64,
    high_m: f64,
}

/// The main line that a heading needs from now, with the kite line that is out; `None` when it
/// cannot be trimmed.
pub fn line_for(ahead: &Ahead<'_>, few: &[(usize, f64)], heading_rad: f64) -> Option<f64> {
    let (needs, _) = needs_with(ahead, few, heading_rad, 0.0);
    let found: f64 = needs.iter().map(|n| n.weight).sum();
    (found > 0.5).then(|| best_change(&needs, 0.0).unwrap_or(0.0))
}

/// Needs on the heading after one turn, or straight on, with the kite line change that makes it
/// fishable.
pub fn needs(
    ahead: &Ahead<'_>,
    few: &[(usize, f64)],
    turn: usize,
) -> (f64, Vec<Needs>, Option<String>) {
    let heading = ahead.profile.heading_after_rad(turn + 1);
    let kite_out = few
        .iter()
        .find_map(|(i, _)| ahead.particle(*i)?.lines)
        .map_or(0.0, |lines| lines.kite_m);
    let mut first_why = None;
    let tries = std::iter::once(0.0).chain(KITE_TRIES.map(|share| (share * kite_out).round()));
    for kite in tries {
        let (needs, why) = needs_with(ahead, few, heading, kite);
        let found: f64 = needs.iter().map(|n| n.weight).sum();
        if found > 0.5 {
            return (kite, needs, None);
        }
        if first_why.is_none() {
            first_why = Some((needs, why));
        }
    }
    let (needs, why) = first_why.unwrap_or_default();
    let words = why.map_or_else(
        || "the new heading has no trim with this kite line".to_owned(),
        |why| format!("the new heading cannot be fished: {}", plainly(&why)),
    );
    (0.0, needs, Some(words))
}

fn needs_with(
    ahead: &Ahead<'_>,
    few: &[(usize, f64)],
    heading: f64,
    kite: f64,
) -> (Vec<Needs>, Option<NoTrim>) {
    let mut why = None;
    let needs = few
        .iter()
        .filter_map(|(i, weight)| {
            let out = ahead.particle(*i)?.lines?.main_m;
            let low = ahead.settled(*i, heading, MainLine::Immersion(BAND.0), kite)?;
            let low_m = match low {
                Ok(trim) => trim.main_line_m,
                Err(no) => {
                    why.get_or_insert(no);
                    return None;
                }
            };
            // No upper border within reach: the band is open above.
            let high_m = ahead
                .settled(*i, heading, MainLine::Immersion(BAND.1), kite)?
                .map_or(low_m + 40.0, |trim| trim.main_line_m);
            Some(Needs {
                weight: *weight,
                low_m: low_m - out,
                high_m: high_m.max(low_m + 2.0) - out,
            })
        })
        .collect();
    (needs, why)
}

/// The change, with `done_m` done already, that puts most weight well inside the band; among equals
/// the middle one.
pub fn best_change(needs: &[Needs], done_m: f64) -> Option<f64> {
    if needs.is_empty() {
        return None;
    }
    let inside = |by: f64| -> f64 {
        needs
            .iter()
            .map(|n| {
                let width = n.high_m - n.low_m;
                let edge = (0.25 * width).clamp(1.0, 8.0);
                let all = done_m + by;
                let depth = ((all - n.low_m).min(n.high_m - all) / edge).clamp(-1.0, 1.0);
                n.weight * depth
            })
            .sum()
    };
    let low = needs.iter().map(|n| n.low_m).fold(f64::INFINITY, f64::min);
    let high = needs
        .iter()
        .map(|n| n.high_m)
        .fold(f64::NEG_INFINITY, f64::max);
    let (from, to) = (low - done_m, high - done_m);
    let (from, to) = (from.floor().max(-150.0), to.ceil().min(200.0));
    if from > to {
        return None;
    }
    let count = (to - from) as usize;
    let values: Vec<(f64, f64)> = (0..=count)
        .map(|i| from + i as f64)
        .map(|by| (by, inside(by)))
        .collect();
    let top = values
        .iter()
        .map(|(_, v)| *v)
        .fold(f64::NEG_INFINITY, f64::max);
    let good: Vec<f64> = values
        .iter()
        .filter(|(_, v)| *v >= top - 0.02)
        .map(|(by, _)| *by)
        .collect();
    // Least effort: of the equally good changes, the one a third in from the end that moves least
    // line.
    let (first, last) = (*good.first()?, *good.last()?);
    let by = if first > 0.0 {
        first + (last - first) / 3.0
    } else if last < 0.0 {
        last - (last - first) / 3.0
    } else {
        0.0
    };
    let by = by.round();
    (by.abs() >= 1.0).then_some(by)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn band(low_m: f64, high_m: f64) -> Needs {
        Needs {
            weight: 0.5,
            low_m,
            high_m,
        }
    }

    #[test]
    fn the_change_lies_in_every_band_and_costs_little() {
        let by = best_change(&[band(10.0, 45.0), band(18.0, 60.0)], 0.0).unwrap();
        assert!((18.0..45.0).contains(&by), "{by}");
        let take = best_change(&[band(-45.0, -10.0), band(-60.0, -18.0)], 0.0).unwrap();
        assert!((by + take).abs() < 1.5, "{by} and {take}");
    }

    #[test]
    fn what_is_done_already_counts() {
        let bands = [band(-15.0, 20.0), band(-12.0, 25.0)];
        // Own arithmetic: 60 m given, the bands end at 20 and 25 m: about 40 m must come back.
        let back = best_change(&bands, 60.0).unwrap();
        assert!((-72.0..=-40.0).contains(&back), "{back}");
        assert_eq!(best_change(&bands, 5.0), None);
    }

    #[test]
    fn a_line_that_is_well_trimmed_is_left_alone() {
        assert_eq!(
            best_change(&[band(-15.0, 20.0), band(-12.0, 25.0)], 0.0),
            None
        );
        assert_eq!(best_change(&[], 0.0), None);
    }
}
