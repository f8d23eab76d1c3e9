//! `[boat]`: where sensors and rod tips are, and what to assume while the network is silent.

use super::reader::Section;
use crate::rig::Structure;
use crate::vessel::Position;

/// The boat as the settings describe it.
#[derive(Debug, Clone, PartialEq)]
pub struct BoatSettings {
    /// Wind sensor above the water.
    pub wind_sensor_height_m: f64,
    /// Tip of the kite rod.
    pub rod_tip_kite: BoatPoint,
    /// Tip of the main rod.
    pub rod_tip_main: BoatPoint,
    /// Where the boat is while the network gives no position.
    pub position: Option<Position>,
    /// Variation while neither network nor magnetic model gives one, positive east.
    pub variation_deg: Option<f64>,
    /// What stands on the boat and a line must not touch.
    pub structures: Vec<Structure>,
}

/// A point in boat axes, from the middle of the transom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoatPoint {
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
    let kite = rod_tip(&section, "rod_tip_kite");
    let main = rod_tip(&section, "rod_tip_main");
    let tips = [("kite", kite), ("main", main)];
    let structures = structures(&section, &tips);
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
        structures,
    })
}

/// Greatest length of a name, which has to fit into a line on the page.
pub(super) const LONGEST_NAME: usize = 30;
/// Reckoned with when the file gives none. Invented: heel, pitch and roll are not in the model.
pub(super) const CLEARANCE_M: f64 = 1.0;

fn structures(boat: &Section<'_>, tips: &[(&str, Option<BoatPoint>)]) -> Vec<Structure> {
    let mut found: Vec<Structure> = Vec::new();
    for section in boat.sections("structure") {
        let name = section
            .needed_text("name", "what the crew calls it, as \"port outrigger\"")
            .filter(|name| {
                let sound = !name.trim().is_empty()
                    && name.chars().count() <= LONGEST_NAME
                    && !name.chars().any(char::is_control);
                let new = found.iter().all(|other| other.name != *name);
                if !sound {
                    section.complain(
                        "name",
                        format!("must have 1 to {LONGEST_NAME} characters, all printable"),
                        "give what the crew calls it",
                    );
                } else if !new {
                    section.complain("name", "is used twice", "give each structure its own");
                }
                sound && new
            });
        let from = place(
            &section,
            "from",
            0.0,
            "give { aft_m = ..., starboard_m = ..., height_m = ... }: one end, from the middle of the transom",
        );
        let to = if section.is_absent("to") {
            from
        } else {
            place(
                &section,
                "to",
                0.0,
                "give { aft_m = ..., starboard_m = ..., height_m = ... }: the other end; leave it away for a point",
            )
        };
        let clearance = section.number(
            "clearance_m",
            0.1..=10.0,
            "how near a line may come; heel and roll are not reckoned with, so leave room for them",
        );
        if let (Some(name), Some(from), Some(to)) = (name, from, to) {
            let axes = |place: BoatPoint| [place.aft_m, place.starboard_m, place.height_m];
            let structure = Structure {
                name: name.to_owned(),
                from_m: axes(from),
                to_m: axes(to),
                clearance_m: clearance.unwrap_or(CLEARANCE_M),
            };
            for (rod, tip) in tips {
                let Some(tip) = tip else { continue };
                let distance_m = structure.distance_m(axes(*tip));
                if distance_m < structure.clearance_m {
                    section.complain(
                        "clearance_m",
                        format!(
                            "must be below the {distance_m:.2} m to the tip of the {rod} rod (now {}), or its line always fouls",
                            structure.clearance_m
                        ),
                        "measure both places again, or lower clearance_m",
                    );
                }
            }
            found.push(structure);
        }
        section.finish();
    }
    found
}

fn rod_tip(boat: &Section<'_>, key: &'static str) -> Option<BoatPoint> {
    place(
        boat,
        key,
        0.3,
        "give { aft_m = ..., starboard_m = ..., height_m = ... }: from the middle of the transom to the rod tip, rod in its holder",
    )
}

fn place(boat: &Section<'_>, key: &'static str, lowest_m: f64, cure: &str) -> Option<BoatPoint> {
    let section = boat.needed_section(key, cure)?;
    let aft = section.needed_number("aft_m", -40.0..=10.0, "astern of the transom is positive");
    let starboard = section.needed_number("starboard_m", -15.0..=15.0, "starboard is positive");
    let height = section.needed_number("height_m", lowest_m..=25.0, "measure from the water");
    section.finish();
    Some(BoatPoint {
        aft_m: aft?,
        starboard_m: starboard?,
        height_m: height?,
    })
}
