//! The turn that the crew has announced: due, begun, completed, overdue.

use super::TurnSettings;
use super::intent::{Intent, TurnSource};
use super::profile::{Extent, TurnDoubt};
use super::yaw::YawWatch;
use crate::time::Millis;
use crate::vessel::IntendedTurn;

/// A turn that begins up to this long before the announced time still counts as the announced one.
const EARLY_S: f64 = 20.0;

/// A heading this far beyond the announced one belongs to another turn.
const BEYOND_RAD: f64 = 0.25;

#[derive(Debug, Clone, Copy)]
struct Announced {
    turn: IntendedTurn,
    /// Unwrapped heading it leads to, once begun.
    target_rad: Option<f64>,
    made: bool,
}

/// Follows the announced turn.
#[derive(Debug, Clone, Default)]
pub(super) struct CrewWatch {
    announced: Option<Announced>,
}

impl CrewWatch {
    /// Takes in what the deck says now and what the bow does.
    pub fn follow(&mut self, at: Millis, told: Option<IntendedTurn>, yaw: &YawWatch) {
        let Some(turn) = told else {
            self.announced = None;
            return;
        };
        if self.announced.is_none_or(|known| known.turn != turn) {
            self.announced = Some(Announced {
                turn,
                target_rad: None,
                made: false,
            });
        }
        let Some(known) = self.announced.as_mut() else {
            return;
        };
        let due = at.seconds_since(turn.starts_at);
        if let Some(turning) = yaw.turning
            && known.target_rad.is_none()
            && due > -EARLY_S
            && turning.turned_rad * turn.by_rad > 0.0
            && turning.begun.seconds_since(turn.told_at) > -3.0
        {
            known.target_rad = Some(turning.from_rad + turn.by_rad);
        }
        if let Some(target) = known.target_rad {
            let left = target - yaw.heading_rad;
            let there = left.abs() < 0.09 || left * turn.by_rad < 0.0;
            if there || yaw.turning.is_none() {
                known.made = true;
            }
        }
    }

    /// What is still to come of it.
    pub fn intent(&self, at: Millis, yaw: &YawWatch, settings: &TurnSettings) -> Option<Intent> {
        let known = self.announced?;
        let turn = known.turn;
        if known.made {
            return None;
        }
        let due = at.seconds_since(turn.starts_at);
        let sd_rad = (0.1 * turn.by_rad.abs()).max(0.05);
        if let Some(target) = known.target_rad {
            return Some(Intent {
                source: TurnSource::Crew,
                starts_in_s: yaw
                    .turning
                    .map_or(0.0, |turning| turning.begun.seconds_since(at)),
                by_rad: target - yaw.heading_rad,
                rate_rad_s: turn.rate_rad_s,
                doubt: TurnDoubt {
                    chance: 1.0,
                    start_sd_s: 0.0,
                    extent: Extent::Said { sd_rad },
                    rate_sd_share: 0.2,
                },
                why: "announced by the crew, under way".to_owned(),
            });
        }
        if due > settings.overdue_s {
            return None;
        }
        Some(Intent {
            source: TurnSource::Crew,
            starts_in_s: (-due).max(0.0),
            by_rad: turn.by_rad,
            rate_rad_s: turn.rate_rad_s,
            doubt: TurnDoubt {
                // The chance falls the longer it is overdue.
                chance: (0.97 - 0.5 * (due - 10.0).max(0.0) / settings.overdue_s).clamp(0.4, 0.97),
                start_sd_s: if due > 0.0 {
                    4.0
                } else {
                    (0.1 * -due).clamp(1.5, 5.0)
                },
                extent: Extent::Said { sd_rad },
                rate_sd_share: 0.25,
            },
            why: if due > 5.0 {
                "announced by the crew, overdue".to_owned()
            } else {
                "announced by the crew".to_owned()
            },
        })
    }

    /// Whether the bow has just reached the announced heading and is still swinging.
    pub fn steadies(&self, yaw: &YawWatch) -> bool {
        yaw.turning.is_some()
            && self.announced.is_some_and(|known| {
                known.made
                    && known
                        .target_rad
                        .is_some_and(|target| (yaw.heading_rad - target).abs() < BEYOND_RAD)
            })
    }
}
