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
    let older = "an older value gives way to another source";
    for (key, seconds, least) in [
        ("wind_stale_s", &mut stale.wind_s, 1.0),
        ("heading_stale_s", &mut stale.heading_s, 1.0),
        ("speed_stale_s", &mut stale.speed_s, 1.0),
        ("position_stale_s", &mut stale.position_s, 1.0),
        ("rate_of_turn_stale_s", &mut stale.rate_of_turn_s, 1.0),
        ("rudder_stale_s", &mut stale.rudder_s, 1.0),
        ("variation_stale_s", &mut stale.variation_s, 10.0),
    ] {
        let most = if key == "variation_stale_s" {
            86_400.0
        } else {
            60.0
        };
        if let Some(value) = section.number(key, least..=most, older) {
            *seconds = value;
        }
    }
    for (key, slot, range, what) in [
        (
            "lost_s",
            &mut settings.lost_s,
            2.0..=60.0,
            "without any value for so long there is no forecast",
        ),
        (
            "settle_s",
            &mut settings.settle_s,
            0.0..=60.0,
            "a better source must live so long before it is taken again",
        ),
        (
            "wind_window_s",
            &mut settings.wind_window_s,
            60.0..=3600.0,
            "the wind's mean, gusts and shift are those of so long",
        ),
        (
            "wind_frozen_s",
            &mut settings.wind_frozen_s,
            30.0..=3600.0,
            "a wind that reads exactly the same for so long under way is a frozen sensor",
        ),
        (
            "way_on_mps",
            &mut settings.way_on_mps,
            0.3..=5.0,
            "from this speed on the course over ground may stand in for a heading",
        ),
    ] {
        if let Some(value) = section.number(key, range, what) {
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
