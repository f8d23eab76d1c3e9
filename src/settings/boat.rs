//! `[boat]`: where sensors and rod tips are, and what to assume while the network is silent.

use super::boat_keys::STRUCTURE_KEYS;
use super::reader::Section;
use crate::key::default_of;
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
    let height = section.needed_number("wind_sensor_height_m");
    let kite = rod_tip(&section, "rod_tip_kite");
    let main = rod_tip(&section, "rod_tip_main");
    let tips = [("kite", kite), ("main", main)];
    let structures = structures(&section, &tips);
    let fallback = section.section("position");
    let position = fallback.is_present().then(|| {
        let latitude = fallback.needed_number("latitude_deg");
        let longitude = fallback.needed_number("longitude_deg");
        Some(Position {
            latitude_deg: latitude?,
            longitude_deg: longitude?,
        })
    });
    fallback.finish();
    let variation_deg = section.number("variation_deg");
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

fn structures(boat: &Section<'_>, tips: &[(&str, Option<BoatPoint>)]) -> Vec<Structure> {
    let mut found: Vec<Structure> = Vec::new();
    for section in boat.sections("structure") {
        let name = section.needed_form("name").filter(|name| {
            let is_new = found.iter().all(|other| other.name != *name);
            if !is_new {
                section.complain("name", "is used twice", "give each structure its own");
            }
            is_new
        });
        let from = place(
            &section,
            "from",
            "give { aft_m = ..., starboard_m = ..., height_m = ... }: one end, from the middle of the transom",
        );
        let to = if section.is_absent("to") {
            from
        } else {
            place(
                &section,
                "to",
                "give { aft_m = ..., starboard_m = ..., height_m = ... }: the other end; leave it away for a point",
            )
        };
        let clearance = section.number("clearance_m");
        if let (Some(name), Some(from), Some(to)) = (name, from, to) {
            let axes = |place: BoatPoint| [place.aft_m, place.starboard_m, place.height_m];
            let structure = Structure {
                name: name.to_owned(),
                from_m: axes(from),
                to_m: axes(to),
                clearance_m: clearance
                    .unwrap_or(const { default_of(STRUCTURE_KEYS, "clearance_m") }),
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

fn rod_tip(boat: &Section<'_>, key: &str) -> Option<BoatPoint> {
    place(
        boat,
        key,
        "give { aft_m = ..., starboard_m = ..., height_m = ... }: from the middle of the transom to the rod tip, rod in its holder",
    )
}

fn place(boat: &Section<'_>, key: &str, cure: &str) -> Option<BoatPoint> {
    let section = boat.needed_section(key, cure)?;
    let aft = section.needed_number("aft_m");
    let starboard = section.needed_number("starboard_m");
    let height = section.needed_number("height_m");
    section.finish();
    Some(BoatPoint {
        aft_m: aft?,
        starboard_m: starboard?,
        height_m: height?,
    })
}
