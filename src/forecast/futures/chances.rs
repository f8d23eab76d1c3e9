//! From the futures to quantile bands and chances.

use super::trace::{TRACE_S, Trace};
use crate::forecast::settings::ForecastSettings;
use crate::forecast::trouble::{Band, Chance, Trouble};

/// Interval of the bands.
pub const BAND_S: f64 = 2.0;

/// A future with its weight.
#[derive(Debug, Clone)]
pub struct Weighted {
    pub weight: f64,
    pub trace: Trace,
}

/// Weighted quantiles of values.
pub fn band(mut values: Vec<(f64, f64)>) -> Band {
    values.retain(|(value, _)| value.is_finite());
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = values.iter().map(|(_, weight)| weight).sum();
    let quantile = |q: f64| {
        let mut reached = 0.0;
        for (value, weight) in &values {
            reached += weight;
            if reached >= q * total {
                return *value;
            }
        }
        values.last().map_or(0.0, |(value, _)| *value)
    };
    Band {
        p10: quantile(0.1),
        p50: quantile(0.5),
        p90: quantile(0.9),
    }
}

/// Moments of the bands.
pub fn moments_s(horizon_s: f64) -> Vec<f64> {
    let count = (horizon_s / BAND_S).floor() as usize;
    (0..=count).map(|i| i as f64 * BAND_S).collect()
}

/// Bands of one quantity over time.
pub fn bands(futures: &[Weighted], t_s: &[f64], of: impl Fn(&Trace) -> &[f64]) -> Vec<Band> {
    t_s.iter()
        .map(|t| {
            let i = (t / TRACE_S).round() as usize;
            band(
                futures
                    .iter()
                    .filter_map(|f| of(&f.trace).get(i).map(|v| (*v, f.weight)))
                    .collect(),
            )
        })
        .collect()
}

/// Onset of one kind in one future.
pub fn onset_s(trace: &Trace, kind: Trouble, settings: &ForecastSettings) -> Option<f64> {
    match kind {
        Trouble::BaitAirborne => trace.airborne_at_s(settings),
        Trouble::BaitDragging => trace.dragging_at_s(settings),
        Trouble::KiteSinking => trace.sinking_at_s(settings),
        Trouble::OffCorner => trace.off_corner_at_s(settings),
        Trouble::LineInWater => trace.wet_at_s(),
        Trouble::LineOverload => trace.overload_at_s(settings),
        Trouble::FalseRelease => trace.release_at_s(settings),
        Trouble::LineFoul => trace.foul_at_s(),
    }
}

/// Onsets of one kind with their weights, over the futures in which it happens.
fn onsets(futures: &[Weighted], kind: Trouble, settings: &ForecastSettings) -> Vec<(f64, f64)> {
    futures
        .iter()
        .filter_map(|f| onset_s(&f.trace, kind, settings).map(|onset| (onset, f.weight)))
        .collect()
}

/// Weight of all futures.
fn total(futures: &[Weighted]) -> f64 {
    futures.iter().map(|f| f.weight).sum()
}

/// Share of these onsets in the total weight.
fn part(onsets: &[(f64, f64)], total: f64) -> f64 {
    if total <= 0.0 {
        return 0.0;
    }
    // Not `sum`, which starts from -0 and would print it.
    onsets.iter().fold(0.0, |sum, (_, weight)| sum + weight) / total
}

/// Weighted share of the futures in which this kind of trouble occurs.
pub fn share(futures: &[Weighted], kind: Trouble, settings: &ForecastSettings) -> f64 {
    part(&onsets(futures, kind, settings), total(futures))
}

/// Whether the futures hold the data for this kind: loads need known strengths, distances known
/// structures.
fn known(futures: &[Weighted], kind: Trouble) -> bool {
    futures.iter().any(|f| {
        let strain = &f.trace.strain;
        match kind {
            Trouble::LineOverload => !strain.load_share.is_empty(),
            Trouble::FalseRelease => !strain.band_share.is_empty(),
            Trouble::LineFoul => !strain.clear_by_m.is_empty(),
            Trouble::BaitAirborne
            | Trouble::BaitDragging
            | Trouble::KiteSinking
            | Trouble::OffCorner
            | Trouble::LineInWater => true,
        }
    })
}

/// All chances; those with the plan from its own futures. In the share `fallen` of the beliefs the
/// kite is down already, which no future shows.
pub fn chances(
    futures: &[Weighted],
    with_plan: Option<&[Weighted]>,
    fallen: f64,
    settings: &ForecastSettings,
) -> Vec<Chance> {
    let total = total(futures);
    Trouble::ALL
        .into_iter()
        .filter(|kind| known(futures, *kind))
        .map(|kind| {
            let down = match kind {
                Trouble::KiteSinking => fallen,
                _ => 0.0,
            };
            let mut onsets = onsets(futures, kind, settings);
            if down > 0.0 {
                for (_, weight) in &mut onsets {
                    *weight *= 1.0 - down;
                }
                onsets.push((0.0, down * total));
            }
            let (now, later): (Vec<_>, Vec<_>) =
                onsets.iter().partition(|(onset, _)| *onset <= 0.0);
            let chance = part(&onsets, total);
            Chance {
                kind,
                chance,
                so_now: part(&now, total).min(chance),
                later_s: (!later.is_empty()).then(|| band(later)),
                onset_s: (!onsets.is_empty()).then(|| band(onsets)),
                chance_with_plan: with_plan
                    .map(|futures| down + (1.0 - down) * share(futures, kind, settings)),
            }
        })
        .collect()
}

/// Weighted mean of something of traces; 0 without any.
fn mean<'a>(traces: impl Iterator<Item = (f64, &'a Trace)>, of: impl Fn(&Trace) -> f64) -> f64 {
    let (sum, total) = traces.fold((0.0, 0.0), |(sum, total), (weight, trace)| {
        (sum + weight * of(trace), total + weight)
    });
    if total > 0.0 { sum / total } else { 0.0 }
}

fn weighed(futures: &[Weighted]) -> impl Iterator<Item = (f64, &Trace)> {
    futures.iter().map(|f| (f.weight, &f.trace))
}

/// Weighted share of futures and time in which the bait skips.
pub fn skipping(futures: &[Weighted], settings: &ForecastSettings) -> f64 {
    skipping_of(weighed(futures), settings)
}

/// The same of traces with their weights.
pub fn skipping_of<'a>(
    traces: impl Iterator<Item = (f64, &'a Trace)>,
    settings: &ForecastSettings,
) -> f64 {
    mean(traces, |trace| trace.skipping(settings))
}

/// What futures are worth to the crew: the share of time in which the bait skips, less the share of
/// them in which the kite sinks. No bait is worth a kite.
pub fn worth(futures: &[Weighted], settings: &ForecastSettings) -> f64 {
    worth_of(weighed(futures), settings)
}

/// The same of traces with their weights.
pub fn worth_of<'a>(
    traces: impl Iterator<Item = (f64, &'a Trace)>,
    settings: &ForecastSettings,
) -> f64 {
    mean(traces, |trace| {
        let sinks = onset_s(trace, Trouble::KiteSinking, settings).is_some();
        trace.skipping(settings) - f64::from(u8::from(sinks))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kite_that_sinks_costs_more_than_a_bait_that_skips() {
        let settings = ForecastSettings::default();
        let flown = |elevation_deg: f64| {
            let mut trace = Trace::default();
            trace.elevation_deg = vec![elevation_deg];
            trace.hold(121);
            trace
        };
        let (stays, sinks) = (flown(45.0), flown(10.0));
        let worth = |second| worth_of([(0.5, &stays), (0.5, second)].into_iter(), &settings);
        assert!((worth(&stays) - worth(&sinks) - 0.5).abs() < 0.01);
    }

    #[test]
    fn a_kite_that_is_down_in_a_part_of_the_beliefs_sinks_in_that_part() {
        let settings = ForecastSettings::default();
        let mut trace = Trace::default();
        trace.elevation_deg = vec![45.0];
        trace.hold(121);
        let stays = Weighted {
            weight: 0.75,
            trace: trace.clone(),
        };
        trace.elevation_deg[30..].fill(1.0);
        let sinks = Weighted {
            weight: 0.25,
            trace,
        };
        let futures = [stays, sinks];
        let of = |fallen: f64, kind| {
            let all = chances(&futures, Some(&futures), fallen, &settings);
            all.into_iter().find(|chance| chance.kind == kind).unwrap()
        };
        let (up, down) = (of(0.0, Trouble::KiteSinking), of(0.2, Trouble::KiteSinking));
        assert_eq!((up.chance, up.so_now), (0.25, 0.0));
        assert!((down.chance - 0.4).abs() < 1e-9, "{down:?}");
        assert!((down.so_now - 0.2).abs() < 1e-9, "{down:?}");
        assert_eq!(down.chance_with_plan, Some(down.chance));
        assert_eq!(down.later_s.unwrap().p50, 30.0);
        let drags = |fallen| of(fallen, Trouble::BaitDragging).chance;
        assert_eq!(drags(0.2), drags(0.0));
    }

    #[test]
    fn quantiles_follow_the_weights() {
        let b = band(vec![(3.0, 0.1), (1.0, 0.5), (2.0, 0.4), (f64::NAN, 9.0)]);
        assert_eq!((b.p10, b.p50, b.p90), (1.0, 1.0, 2.0));
    }
}
