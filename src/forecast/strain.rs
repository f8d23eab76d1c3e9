//! Loads on the gear in one future against strengths, and distances of the lines to structures of
//! the boat.

use super::chances::{Weighted, band};
use super::future::Trace;
use super::settings::ForecastSettings;
use super::shape::{ClearanceAhead, LoadAhead, LoadPart};
use crate::decode::Line;
use crate::rig::{Limit, LoadShare, Rig, RigParameters, Sample, Structure, loads};

/// Shortest overload that counts: a single sample may be numerical.
const OVERLOAD_S: f64 = 1.0;

/// One future's loads and distances; series are empty where nothing is known to compare with.
#[derive(Debug, Clone, Default)]
pub(super) struct Strain {
    /// Heaviest share of strength of lines and rod holder.
    pub load_share: Vec<f64>,
    /// Share of the band's strength.
    pub band_share: Vec<f64>,
    /// Least distance beyond the clearance of both lines to all structures.
    pub clear_by_m: Vec<f64>,
    /// Greatest share of each part, in the order of [`PARTS`].
    greatest: [f64; 4],
    /// Least distance to each structure of kite line and main line.
    least_m: Vec<[f64; 2]>,
}

const PARTS: [LoadPart; 4] = [
    LoadPart::KiteLine,
    LoadPart::MainLine,
    LoadPart::Band,
    LoadPart::RodHolder,
];

fn index(limit: Limit) -> usize {
    match limit {
        Limit::KiteLine => 0,
        Limit::MainLine => 1,
        Limit::Band => 2,
        Limit::RodHolder => 3,
    }
}

/// Least distance beyond the clearance of both lines to all structures; `None` without any.
pub(super) fn clear_by_m(structures: &[Structure], sample: &Sample) -> Option<f64> {
    structures
        .iter()
        .map(|structure| {
            let [kite, main] = structure.gaps_m(&sample.shape);
            kite.min(main) - structure.clearance_m
        })
        .reduce(f64::min)
}

impl Strain {
    pub fn note(&mut self, rig: &Rig, structures: &[Structure], sample: &Sample) {
        let mut heaviest: Option<f64> = None;
        for LoadShare { limit, share, .. } in loads(rig, sample).into_iter().flatten() {
            let greatest = &mut self.greatest[index(limit)];
            *greatest = greatest.max(share);
            if limit == Limit::Band {
                self.band_share.push(share);
            } else {
                heaviest = Some(heaviest.map_or(share, |h| h.max(share)));
            }
        }
        self.load_share.extend(heaviest);
        self.least_m.resize(structures.len(), [f64::INFINITY; 2]);
        let mut least: Option<f64> = None;
        for (structure, kept) in structures.iter().zip(&mut self.least_m) {
            for (kept, gap_m) in kept.iter_mut().zip(structure.gaps_m(&sample.shape)) {
                *kept = kept.min(gap_m);
                let by = gap_m - structure.clearance_m;
                least = Some(least.map_or(by, |l| l.min(by)));
            }
        }
        self.clear_by_m.extend(least);
    }

    /// Holds the last known values to the horizon.
    pub fn hold(&mut self, count: usize) {
        for series in [
            &mut self.load_share,
            &mut self.band_share,
            &mut self.clear_by_m,
        ] {
            if let Some(last) = series.last().copied() {
                series.resize(count, last);
            }
        }
    }
}

fn at_least(series: &[f64], i: usize, border: f64) -> bool {
    series.get(i).is_some_and(|share| *share >= border)
}

impl Trace {
    pub fn overload_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        self.first_run(OVERLOAD_S, |i| {
            at_least(&self.strain.load_share, i, settings.overload_share)
        })
    }

    pub fn release_at_s(&self, settings: &ForecastSettings) -> Option<f64> {
        self.first_run(OVERLOAD_S, |i| {
            at_least(&self.strain.band_share, i, settings.release_share)
        })
    }

    pub fn foul_at_s(&self) -> Option<f64> {
        self.first_run(0.0, |i| {
            self.strain.clear_by_m.get(i).is_some_and(|by| *by < 0.0)
        })
    }
}

/// Greatest loads of all futures, for every part whose strength is known.
pub(super) fn loads_ahead(futures: &[Weighted], base: &RigParameters) -> Vec<LoadAhead> {
    let strengths = [
        base.kite_line.strength_n,
        base.main_line.strength_n,
        base.band_strength_n,
        base.rod_holder_strength_n,
    ];
    PARTS
        .into_iter()
        .zip(strengths)
        .enumerate()
        .filter_map(|(i, (part, strength_n))| {
            Some(LoadAhead {
                part,
                strength_n: strength_n?,
                share: band(
                    futures
                        .iter()
                        .map(|f| (f.trace.strain.greatest[i], f.weight))
                        .collect(),
                ),
            })
        })
        .collect()
}

/// Least distances of all futures to every structure.
pub(super) fn clearances_ahead(
    futures: &[Weighted],
    structures: &[Structure],
) -> Vec<ClearanceAhead> {
    structures
        .iter()
        .enumerate()
        .flat_map(|(i, structure)| {
            [Line::Kite, Line::Main]
                .into_iter()
                .enumerate()
                .map(move |(which, line)| ClearanceAhead {
                    structure: structure.name.clone(),
                    line,
                    clearance_m: structure.clearance_m,
                    least_m: band(
                        futures
                            .iter()
                            .filter_map(|f| {
                                let least = f.trace.strain.least_m.get(i)?;
                                Some((*least.get(which)?, f.weight))
                            })
                            .collect(),
                    ),
                })
        })
        .collect()
}
