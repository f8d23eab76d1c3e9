//! Loads on the gear in one future against strengths, and distances of the lines to structures of
//! the boat.

use crate::forecast::shape::LoadPart;
use crate::rig::{Limit, LoadShare, Rig, Sample, Structure, loads};

/// One future's loads and distances; series are empty where nothing is known to compare with.
#[derive(Debug, Clone, Default)]
pub struct Strain {
    /// Heaviest share of strength of lines and rod holder.
    pub load_share: Vec<f64>,
    /// Share of the band's strength.
    pub band_share: Vec<f64>,
    /// Least distance beyond the clearance of both lines to all structures.
    pub clear_by_m: Vec<f64>,
    /// Greatest share of each part, in the order of [`PARTS`].
    pub greatest: [f64; 4],
    /// Least distance to each structure of kite line and main line.
    pub least_m: Vec<[f64; 2]>,
}

/// Parts whose loads are followed.
pub const PARTS: [LoadPart; 4] = [
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
pub fn clear_by_m(structures: &[Structure], sample: &Sample) -> Option<f64> {
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
