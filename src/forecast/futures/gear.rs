//! Over all futures: greatest loads on the gear, and least distances of the lines to structures.

use super::chances::{Weighted, band};
use super::strain::PARTS;
use crate::decode::Line;
use crate::forecast::shape::{ClearanceAhead, LoadAhead};
use crate::rig::{RigParameters, Structure};

/// Greatest loads of all futures, for every part whose strength is known.
pub fn loads_ahead(futures: &[Weighted], base: &RigParameters) -> Vec<LoadAhead> {
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
pub fn clearances_ahead(futures: &[Weighted], structures: &[Structure]) -> Vec<ClearanceAhead> {
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
