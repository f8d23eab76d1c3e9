//! `[sources]`: which source to believe, and when a value is old.

use super::boat::BoatSettings;
use super::reader::Section;
use crate::vessel::{SourcePattern, VesselSettings};

pub(super) fn read(
    section: Section<'_>,
    feed_names: &[String],
    boat: Option<&BoatSettings>,
) -> VesselSettings {
    let mut settings = VesselSettings {
        position: boat.and_then(|b| b.position),
        variation_rad: boat.and_then(|b| b.variation_deg).map(f64::to_radians),
        ..VesselSettings::default()
    };
    let order = &mut settings.order;
    for (key, list) in [
        ("wind", &mut order.wind),
        ("heading", &mut order.heading),
        ("speed_water", &mut order.speed_water),
        ("speed_ground", &mut order.speed_ground),
        ("position", &mut order.position),
        ("rate_of_turn", &mut order.rate_of_turn),
        ("rudder", &mut order.rudder),
        ("variation", &mut order.variation),
    ] {
        if let Some(patterns) = section.parsed_list(key, |text| pattern(text, feed_names)) {
            *list = patterns;
        }
    }
    let stale = &mut settings.stale;
    for (key, slot) in [
        ("wind_stale_s", &mut stale.wind_s),
        ("heading_stale_s", &mut stale.heading_s),
        ("speed_stale_s", &mut stale.speed_s),
        ("position_stale_s", &mut stale.position_s),
        ("rate_of_turn_stale_s", &mut stale.rate_of_turn_s),
        ("rudder_stale_s", &mut stale.rudder_s),
        ("variation_stale_s", &mut stale.variation_s),
        ("lost_s", &mut settings.lost_s),
        ("settle_s", &mut settings.settle_s),
        ("wind_window_s", &mut settings.wind_window_s),
        ("wind_frozen_s", &mut settings.wind_frozen_s),
        ("way_on_mps", &mut settings.way_on_mps),
    ] {
        if let Some(value) = section.number(key) {
            *slot = value;
        }
    }
    section.finish();
    settings
}

fn pattern(text: &str, feed_names: &[String]) -> Result<SourcePattern, String> {
    let pattern: SourcePattern = text.parse().map_err(|e| format!("{e}"))?;
    match pattern.feed() {
        // Without feeds of its own the file may name those of a recording.
        Some(named) if !feed_names.is_empty() && !feed_names.iter().any(|name| name == named) => {
            Err(format!(
                "no feed is named \"{named}\"; feeds: {}",
                feed_names.join(", ")
            ))
        }
        _ => Ok(pattern),
    }
}
