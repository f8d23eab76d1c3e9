//! All threats of one moment; stateless.

use super::bait::bait;
use super::facts::{facts, wind_shift};
use super::foresight::Foresight;
use super::scene::Scene;
use super::settings::AdviceSettings;
use super::shape::Kind;
use super::threat::{AliveByKind, Threat};
use crate::forecast::Trouble;

/// All threats of the moment.
pub(super) fn threats(
    scene: &Scene<'_>,
    settings: &AdviceSettings,
    alive: &AliveByKind,
) -> Vec<Threat> {
    let foresight = Foresight::new(scene, settings, alive);
    let mut found: Vec<Threat> = facts(scene, settings).collect();
    found.extend(bait(scene, foresight.as_ref()));
    let Some(foresight) = foresight else {
        return found;
    };
    let tells = |found: &[Threat], kind| found.iter().any(|threat| threat.kind == kind);
    for trouble in Trouble::ALL {
        let raise = match trouble {
            // Raised above, since the crew can see it without a forecast.
            Trouble::BaitAirborne | Trouble::BaitDragging => false,
            // Dragging ends with line in the water, so that is raised separately only without it.
            Trouble::LineInWater => !tells(&found, Kind::BaitDragging),
            Trouble::KiteSinking
            | Trouble::OffCorner
            | Trouble::LineOverload
            | Trouble::FalseRelease
            | Trouble::LineFoul => true,
        };
        if raise {
            found.extend(foresight.likely(trouble));
        }
    }
    if !tells(&found, Kind::BaitAirborne) && !tells(&found, Kind::BaitDragging) {
        found.extend(wind_shift(&foresight));
    }
    found
}
