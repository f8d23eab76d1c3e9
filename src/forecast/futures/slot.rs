//! The draws of each future that do not depend on a belief: gusts, helm, and how the turns are made.

use super::gusts::Gusts;
use super::noise::Noise;
use super::ways::Ways;
use crate::forecast::draws::Draws;
use crate::forecast::settings::ForecastSettings;
use crate::turn::{MOST_TURNS, TurnDraw, YawDraw};

/// What is drawn for one future, independently of the particle.
#[derive(Debug, Clone)]
pub struct Slot {
    pub gusts: Gusts,
    pub ways: Ways,
    pub yaw: YawDraw,
}

/// Stream of the draws of every turn after the first.
const LATER_TURNS: u64 = 1;
/// First stream of the helms, one for each future.
const HELMS: u64 = 100_000;

impl Slot {
    /// All slots, stratified over gusts and turns.
    pub fn draw(settings: &ForecastSettings, draws: &mut Draws) -> Vec<Self> {
        let n = settings.futures;
        let (made, extent) = (draws.stratified(n), draws.stratified(n));
        let normal: [Vec<f64>; 4] = std::array::from_fn(|_| draws.stratified_normal(n));
        let mut apart = Draws::new(settings.seed, LATER_TURNS);
        let later: [[Vec<f64>; 4]; MOST_TURNS - 1] = std::array::from_fn(|_| {
            [
                apart.stratified(n),
                apart.stratified(n),
                apart.stratified_normal(n),
                apart.stratified_normal(n),
            ]
        });
        (0..n)
            .map(|i| Self {
                gusts: Gusts::new(settings.seed, i, normal[3][i]),
                ways: {
                    let mut draws = Draws::new(settings.seed, HELMS + i as u64);
                    Ways {
                        heading: Noise::new(&mut draws, 1.0),
                        speed: Noise::new(&mut draws, 1.0),
                    }
                },
                yaw: YawDraw {
                    time_constant_z: normal[2][i],
                    turns: std::array::from_fn(|turn| {
                        let [made, extent, start, rate] = match turn.checked_sub(1) {
                            None => [&made, &extent, &normal[0], &normal[1]],
                            Some(turn) => later[turn].each_ref(),
                        };
                        TurnDraw {
                            made_u: made[i],
                            extent_u: extent[i],
                            start_z: start[i],
                            rate_z: rate[i],
                        }
                    }),
                },
            })
            .collect()
    }
}
