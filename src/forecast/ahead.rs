//! The moment from which all futures start: members, weights, their gusts and their turns.

use super::chances::Weighted;
use super::draws::systematic;
use super::ensemble::Ensemble;
use super::future::{Course, Move, run};
use super::settings::ForecastSettings;
use crate::rig::{Conditions, Current, MainLine, NoTrim, Steady, Structure, Wind, steady};
use crate::time::Millis;
use crate::turn::HeadingProfile;
use crate::vessel::WindStatistics;

/// Everything the futures share.
pub(super) struct Ahead<'a> {
    pub settings: &'a ForecastSettings,
    pub ensemble: &'a Ensemble,
    pub weights: Vec<f64>,
    pub profile: HeadingProfile,
    pub speed_mps: f64,
    pub structures: &'a [Structure],
    winds: Vec<Vec<Wind>>,
    profiles: Vec<HeadingProfile>,
}

impl<'a> Ahead<'a> {
    pub fn new(
        at: Millis,
        settings: &'a ForecastSettings,
        ensemble: &'a Ensemble,
        profile: HeadingProfile,
        speed_mps: f64,
        spread: (f64, f64),
        statistics: Option<&WindStatistics>,
    ) -> Self {
        let winds = ensemble
            .members
            .iter()
            .zip(&ensemble.slots)
            .map(|(member, slot)| {
                member.air.map_or_else(Vec::new, |air| {
                    slot.gusts
                        .path(at, &air, spread, statistics, settings.horizon_s)
                })
            })
            .collect();
        let profiles = ensemble
            .slots
            .iter()
            .map(|slot| profile.drawn(&slot.turn))
            .collect();
        Self {
            settings,
            ensemble,
            weights: ensemble.weights(),
            profile,
            speed_mps,
            structures: &[],
            winds,
            profiles,
        }
    }

    /// The same, minding what stands on the boat.
    pub fn minding(self, structures: &'a [Structure]) -> Self {
        Self { structures, ..self }
    }

    /// One member's future with some corrections.
    pub fn future(&self, i: usize, weight: f64, moves: &[Move]) -> Option<Weighted> {
        let member = self.ensemble.members.get(i)?;
        let winds = self.winds.get(i)?;
        if winds.is_empty() {
            return None;
        }
        let course = Course {
            profile: *self.profiles.get(i)?,
            speed_mps: self.speed_mps,
            winds,
            lines: member.lines?,
            moves,
            structures: self.structures,
        };
        run(member, course, self.settings.horizon_s).map(|trace| Weighted { weight, trace })
    }

    /// Every member that carries weight.
    pub fn all(&self) -> Vec<Weighted> {
        (0..self.weights.len())
            .filter(|i| self.weights[*i] > 1e-5)
            .filter_map(|i| self.future(i, self.weights[i], &[]))
            .collect()
    }

    /// A few members that stand for all, with their weights.
    pub fn few(&self, count: usize) -> Vec<(usize, f64)> {
        let mut few: Vec<(usize, f64)> = Vec::new();
        if self.weights.iter().sum::<f64>() <= 0.0 {
            return few;
        }
        for i in systematic(&self.weights, count, 0.5) {
            match few.last_mut() {
                Some((last, weight)) if *last == i => *weight += 1.0 / count as f64,
                _ => few.push((i, 1.0 / count as f64)),
            }
        }
        few
    }

    /// Those few with some corrections.
    pub fn some(&self, few: &[(usize, f64)], moves: &[Move]) -> Vec<Weighted> {
        few.iter()
            .filter_map(|(i, weight)| self.future(*i, *weight, moves))
            .collect()
    }

    /// Usable settled state of one member on a heading.
    pub fn settled(
        &self,
        i: usize,
        heading_rad: f64,
        main: MainLine,
        kite_more_m: f64,
    ) -> Option<Result<Steady, NoTrim>> {
        let member = self.ensemble.members.get(i)?;
        let (rig, air, lines) = (member.rig.as_ref()?, member.air?, member.lines?);
        let conditions = Conditions {
            wind: air.mean,
            current: Current::default(),
            boat_speed_mps: self.speed_mps.max(0.0),
            heading_rad,
            kite_line_out_m: lines.kite_m + kite_more_m,
        };
        Some(steady(rig, &conditions, main, member.state.as_ref()))
    }
}
