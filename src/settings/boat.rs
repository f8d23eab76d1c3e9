//! `[boat]`: where sensors and rod tips are, and what to assume while the network is silent.

use super::reader::Section;
use crate::vessel::Position;

/// The boat as the settings describe it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoatSettings {
    /// Wind sensor above the water.
    pub wind_sensor_height_m: f64,
    /// Tip of the kite rod.
    pub rod_tip_kite: Place,
    /// Tip of the main rod.
    pub rod_tip_main: Place,
    /// Where the boat is while the network gives no position.
    pub position: Option<Position>,
    /// Variation while neither network nor magnetic model gives one, positive east.
    pub variation_deg: Option<f64>,
}

/// A point in boat axes, from the middle of the transom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Positive astern.
    pub aft_m: f64,
    /// Positive to starboard.
    pub starboard_m: f64,
    /// Above the water.
    pub height_m: f64,
}

pub(super) fn read(section: Section<'_>) -> Option<BoatSettings> {
    let height = section.needed_number(
        "wind_sensor_height_m",
        1.0..=60.0,
        "measure from the water to the wind sensor",
    );
    let kite = place(&section, "rod_tip_kite");
    let main = place(&section, "rod_tip_main");
    let fallback = section.section("position");
    let position = fallback.is_present().then(|| {
        let latitude = fallback.needed_number("latitude_deg", -90.0..=90.0, "north is positive");
        let longitude = fallback.needed_number("longitude_deg", -180.0..=180.0, "east is positive");
        Some(Position {
            latitude_deg: latitude?,
            longitude_deg: longitude?,
        })
    });
    fallback.finish();
    let variation_deg = section.number(
        "variation_deg",
        -180.0..=180.0,
        "east is positive; read it off the compass rose of the chart",
    );
    section.finish();
    Some(BoatSettings {
        wind_sensor_height_m: height?,
        rod_tip_kite: kite?,
        rod_tip_main: main?,
        position: position.flatten(),
        variation_deg,
    })
}

fn place(boat: &Section<'_>, key: &'static str) -> Option<Place> {
    let section = boat.needed_section(
        key,
        "give { aft_m = ..., starboard_m = ..., height_m = ... }: from the middle of the transom to the rod tip, rod in its holder",
    )?;
    let aft = section.needed_number("aft_m", -40.0..=10.0, "astern of the transom is positive");
    let starboard = section.needed_number("starboard_m", -15.0..=15.0, "starboard is positive");
    let height = section.needed_number("height_m", 0.3..=25.0, "measure from the water");
    section.finish();
    Some(Place {
        aft_m: aft?,
        starboard_m: starboard?,
        height_m: height?,
    })
}
