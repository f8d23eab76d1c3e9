//! A few rigs drawn from the beliefs, each with the air and the helm of one future, for whoever
//! plans beyond the forecast.
//!
//! In: the particles and what wind and helm have shown. Out: rigs as they hang now, that differ as
//! the beliefs do. It must not know what is planned.

use super::draws::systematic;
use super::filter::{Particle, Particles};
use super::futures::{Gusts, STEP_S, Slot};
use super::helm::HelmOnward;
use super::settings::ForecastSettings;
use crate::forecast::air::WindOnward;
use crate::rig::{LineLengths, Rig, State, Wind};
use crate::time::Millis;
use crate::turn::HeadingProfile;

/// Seconds between the entries of [`Likely::winds`] and [`Likely::ways`].
pub const LIKELY_STEP_S: f64 = STEP_S;

/// One rig that may be the true one, with its wind and helm.
#[derive(Debug, Clone)]
pub struct Likely {
    /// The rig.
    pub rig: Rig,
    /// How it hangs now.
    pub state: State,
    /// Line that is really out.
    pub lines: LineLengths,
    /// Wind without the gusts that pass within a minute, over the water.
    pub mean: Wind,
    /// Wind from now on, gusts included, every [`LIKELY_STEP_S`].
    pub winds: Vec<Wind>,
    /// Heading about its profile in radians, and speed as a share of now, every [`LIKELY_STEP_S`].
    pub ways: Vec<(f64, f64)>,
    /// Logarithm of the speed that a turn costs for each radian.
    pub loss: f64,
    /// Normal numbers for how late and how fast the helm turns.
    pub helm_z: [f64; 2],
}

/// The typical rig and some that differ as the beliefs do.
#[derive(Debug, Clone)]
pub struct LikelyRigs {
    /// The rig of the mean belief, in a wind without gusts.
    pub typical: Likely,
    /// Equally likely ones.
    pub all: Vec<Likely>,
    /// Immersion that the crew trims to.
    pub trim_immersion: f64,
}

/// Draws them; `None` while none can be drawn.
pub(super) fn draw(
    at: Millis,
    particles: &Particles,
    slots: &[Slot],
    (wind, helm): (WindOnward, &HelmOnward),
    count: usize,
    over_s: f64,
    settings: &ForecastSettings,
) -> Option<LikelyRigs> {
    let straight = HeadingProfile::steady(0.0);
    let of = |particle: &Particle, gusts: &Gusts, slot: Option<&Slot>| {
        let air = particle.air?;
        let ways = slot.map_or_else(Vec::new, |slot| {
            let ways = slot.ways.path(at, helm, &straight, over_s);
            ways.iter()
                .map(|way| (way.off_rad, way.speed_share))
                .collect()
        });
        Some(Likely {
            rig: particle.rig.clone()?,
            state: particle.state.clone()?,
            lines: particle.lines?,
            mean: air.mean,
            winds: gusts.path(at, &air, wind, over_s),
            ways,
            loss: helm.loss,
            helm_z: slot.map_or([0.0; 2], |slot| {
                let first = &slot.yaw.turns[0];
                [first.start_z, first.rate_z]
            }),
        })
    };
    let mean = particles.typical();
    let typical = of(mean, &Gusts::none(), None)?;
    let weights = particles.weights();
    if slots.is_empty() || weights.iter().sum::<f64>() <= 0.0 {
        return None;
    }
    let count = count.min(slots.len());
    let all: Vec<Likely> = systematic(&weights, count, 0.5)
        .into_iter()
        .enumerate()
        .filter_map(|(k, i)| {
            let slot = slots.get((2 * k + 1) * slots.len() / (2 * count))?;
            of(particles.all().get(i)?, &slot.gusts, Some(slot))
        })
        .collect();
    (!all.is_empty()).then_some(LikelyRigs {
        typical,
        all,
        trim_immersion: mean.belief.trim_immersion(settings),
    })
}
