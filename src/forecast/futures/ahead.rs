//! The moment from which all futures start: beliefs, weights, gusts and turns.

use rayon::prelude::*;

use super::chances::{Weighted, onset_s};
use super::run::{Course, Move, run};
use super::slot::Slot;
use super::trace::Trace;
use super::ways::Way;
use crate::forecast::air::WindOnward;
use crate::forecast::draws::systematic;
use crate::forecast::effort::Effort;
use crate::forecast::filter::{Particle, Particles};
use crate::forecast::helm::HelmOnward;
use crate::forecast::sea::SeaAhead;
use crate::forecast::settings::ForecastSettings;
use crate::forecast::trouble::Trouble;
use crate::rig::{Conditions, Current, MainLine, NoTrim, Steady, Structure, Wind, steady};
use crate::time::Millis;
use crate::turn::HeadingProfile;

/// The fewest futures that may stand for twice as many, and the share of them that may see it
/// otherwise: the other half would move such a chance by a few hundredths.
const LEAST_AGREEING: usize = 32;
const DISSENT: f64 = 0.12;

/// Boat and air as they may continue.
#[derive(Debug, Clone)]
pub struct Coming {
    pub profile: HeadingProfile,
    pub speed_mps: f64,
    pub wind: WindOnward,
    pub helm: HelmOnward,
}

/// Everything the futures share.
pub struct Ahead<'a> {
    pub settings: &'a ForecastSettings,
    pub profile: HeadingProfile,
    pub speed_mps: f64,
    pub structures: &'a [Structure],
    sea: Option<SeaAhead>,
    pub effort: Effort,
    futures: Vec<Drawn<'a>>,
}

/// One future before it is run: a particle drawn by weight, with the gusts and turns of its slot.
struct Drawn<'a> {
    particle: &'a Particle,
    winds: Vec<Wind>,
    ways: Vec<Way>,
    profile: HeadingProfile,
}

impl<'a> Ahead<'a> {
    pub fn new(
        at: Millis,
        settings: &'a ForecastSettings,
        particles: &'a Particles,
        slots: &[Slot],
        coming: Coming,
    ) -> Self {
        let weights = particles.weights();
        let count = if weights.iter().sum::<f64>() > 0.0 {
            slots.len()
        } else {
            0
        };
        // Systematic resampling gives every future the same weight. The uniform offset is fixed, so
        // that with the same weights a later forecast runs the same futures.
        let futures = systematic(&weights, count, 0.5)
            .into_iter()
            .zip(slots)
            .filter_map(|(i, slot)| {
                let particle = particles.all().get(i)?;
                let air = particle.air?;
                let horizon_s = settings.horizon_s;
                let profile = coming.profile.drawn(&slot.yaw);
                Some(Drawn {
                    particle,
                    winds: slot.gusts.path(at, &air, coming.wind, horizon_s),
                    ways: slot.ways.path(at, &coming.helm, &profile, horizon_s),
                    profile,
                })
            })
            .collect();
        Self {
            settings,
            profile: coming.profile,
            speed_mps: coming.speed_mps,
            structures: &[],
            sea: None,
            effort: Effort::FULL,
            futures,
        }
    }

    /// The same, with the distances to structures of the boat watched.
    pub fn minding(self, structures: &'a [Structure]) -> Self {
        Self { structures, ..self }
    }

    /// The same in a sea.
    pub fn at_sea(self, sea: Option<SeaAhead>) -> Self {
        Self { sea, ..self }
    }

    /// The same with no more futures than there is time for, an even subset of all.
    pub fn within(mut self, effort: Effort) -> Self {
        let kept = self.few(effort.futures(self.futures.len()));
        let kept: Vec<usize> = kept.into_iter().map(|(i, _)| i).collect();
        self.keep(&kept);
        Self { effort, ..self }
    }

    /// One future with some corrections.
    pub fn future(&self, i: usize, weight: f64, moves: &[Move]) -> Option<Weighted> {
        let drawn = self.futures.get(i)?;
        let course = Course {
            profile: drawn.profile.clone(),
            speed_mps: self.speed_mps,
            ways: &drawn.ways,
            winds: &drawn.winds,
            lines: drawn.particle.lines?,
            moves,
            structures: self.structures,
            sea: self.sea,
        };
        run(drawn.particle, course, self.settings.horizon_s).map(|trace| Weighted { weight, trace })
    }

    /// One future on another heading profile, for so long: its gusts, its wander and its lines as
    /// they are.
    pub fn elsewhere(
        &self,
        i: usize,
        profile: &HeadingProfile,
        moves: &[Move],
        until_s: f64,
    ) -> Option<Trace> {
        let drawn = self.futures.get(i)?;
        let course = Course {
            profile: profile.clone(),
            speed_mps: self.speed_mps,
            ways: &drawn.ways,
            winds: &drawn.winds,
            lines: drawn.particle.lines?,
            moves,
            structures: &[],
            sea: self.sea,
        };
        run(drawn.particle, course, until_s)
    }

    /// The particle of one future.
    pub fn particle(&self, i: usize) -> Option<&'a Particle> {
        self.futures.get(i).map(|drawn| drawn.particle)
    }

    /// Runs the futures, in the order of the indices of [`Self::few`]. On a straight course an even
    /// half of them is enough, and before a turn when they agree about every pressing trouble; the
    /// other half is dropped. A drawn particle always has a state.
    pub fn run_enough(&mut self) -> Vec<Weighted> {
        let all = self.futures.len();
        let half: Vec<usize> = match all / 2 {
            few if few < LEAST_AGREEING => Vec::new(),
            half => self.few(half).into_iter().map(|(i, _)| i).collect(),
        };
        let first = self.run_these(&half);
        let straight = self.profile.turns.is_empty();
        let agree = !first.is_empty() && (straight || self.agree(&first));
        let mut traces: Vec<Weighted> = if agree {
            self.keep(&half);
            first.into_iter().flatten().collect()
        } else {
            let rest: Vec<usize> = (0..all).filter(|i| !half.contains(i)).collect();
            let second = self.run_these(&rest);
            let mut numbered: Vec<_> = half
                .iter()
                .zip(first)
                .chain(rest.iter().zip(second))
                .collect();
            numbered.sort_unstable_by_key(|(i, _)| **i);
            numbered
                .into_iter()
                .filter_map(|(_, future)| future)
                .collect()
        };
        let weight = 1.0 / self.futures.len().max(1) as f64;
        for future in &mut traces {
            future.weight = weight;
        }
        traces
    }

    /// Whether nearly all or nearly none of these see each pressing trouble.
    fn agree(&self, futures: &[Option<Weighted>]) -> bool {
        let share = |kind: Trouble| {
            let troubled = futures.iter().flatten();
            let troubled = troubled.filter(|f| onset_s(&f.trace, kind, self.settings).is_some());
            troubled.count() as f64 / futures.len() as f64
        };
        let mut pressing = Trouble::ALL.into_iter().filter(|kind| kind.presses());
        pressing.all(|kind| {
            let share = share(kind);
            share.min(1.0 - share) < DISSENT
        })
    }

    fn run_these(&self, these: &[usize]) -> Vec<Option<Weighted>> {
        these
            .par_iter()
            .map(|i| self.future(*i, 1.0, &[]))
            .collect()
    }

    /// Drops all futures but these, given in ascending order.
    fn keep(&mut self, these: &[usize]) {
        let mut kept = these.iter().peekable();
        let mut i = 0;
        self.futures.retain(|_| {
            let keep = kept.next_if_eq(&&i).is_some();
            i += 1;
            keep
        });
    }

    /// A few futures that stand for all, fewer when time is short, with their weights.
    pub fn sample(&self, count: usize) -> Vec<(usize, f64)> {
        self.few(self.effort.part(count, self.settings))
    }

    /// A few futures that stand for all, with their weights.
    pub fn few(&self, count: usize) -> Vec<(usize, f64)> {
        let count = count.min(self.futures.len());
        (0..count)
            .map(|k| {
                (
                    (2 * k + 1) * self.futures.len() / (2 * count),
                    1.0 / count as f64,
                )
            })
            .collect()
    }

    /// Those few with some corrections.
    pub fn some(&self, few: &[(usize, f64)], moves: &[Move]) -> Vec<Weighted> {
        few.par_iter()
            .filter_map(|(i, weight)| self.future(*i, *weight, moves))
            .collect()
    }

    /// Usable settled state of one future's particle on a heading.
    pub fn settled(
        &self,
        i: usize,
        heading_rad: f64,
        main: MainLine,
        kite_more_m: f64,
    ) -> Option<Result<Steady, NoTrim>> {
        let particle = self.particle(i)?;
        let (rig, air, lines) = (particle.rig.as_ref()?, particle.air?, particle.lines?);
        let conditions = Conditions {
            wind: air.mean,
            current: Current::default(),
            boat_speed_mps: self.speed_mps.max(0.0),
            heading_rad,
            kite_line_out_m: lines.kite_m + kite_more_m,
        };
        Some(steady(rig, &conditions, main, particle.state.as_ref()))
    }
}
