//! `[rig]`: kite, lines, marker, bait.

use super::boat::{BoatPoint, BoatSettings};
use super::editable::{EDITABLES, Kind};
use super::reader::Section;
use crate::rig::presets::{self, KiteSize};
use crate::rig::{
    Bait, Kite, KiteLine, MainLineStuff, Marker, Rig, RigParameters, RodTip, RodTips, TrimPoint,
};
use crate::serve::RigEntry;
use crate::units::LINE_OUT_MAX_M;
use crate::vessel::{Grade, LinesOut};

/// The rig as the settings describe it.
#[derive(Debug, Clone, PartialEq)]
pub struct RigSettings {
    /// For the rig model; every value is one that it accepts.
    pub parameters: RigParameters,
    /// Line out when fishing starts, where the settings say it.
    pub out_at_start: LinesOut,
    /// Keys whose values come from presets and defaults, not from this boat, as `kite.area_m2`.
    pub assumed: Vec<String>,
}

impl RigSettings {
    /// Every value of the rig under the key it has in the file, for people to check.
    #[must_use]
    pub fn entries(&self) -> Vec<RigEntry> {
        let p = &self.parameters;
        let (kite, bait) = (&p.kite, &p.bait);
        let mut values = vec![
            ("kite", "area_m2", kite.area_m2),
            ("kite", "mass_kg", kite.mass_kg),
            ("kite", "cl", kite.cl),
            ("kite", "cd", kite.cd),
            ("kite_line", "clip_to_kite_m", p.kite_line.clip_to_kite_m),
            ("kite_line", "diameter_mm", p.kite_line.diameter_m * 1000.0),
            (
                "kite_line",
                "mass_g_per_m",
                p.kite_line.mass_per_m_kg * 1000.0,
            ),
            ("main_line", "diameter_mm", p.main_line.diameter_m * 1000.0),
            (
                "main_line",
                "mass_g_per_m",
                p.main_line.mass_per_m_kg * 1000.0,
            ),
            ("marker", "above_bait_m", p.marker.above_bait_m),
            ("marker", "diameter_m", p.marker.diameter_m),
            ("marker", "mass_kg", p.marker.mass_kg),
            ("bait", "mass_kg", bait.mass_kg),
            ("bait", "height_m", bait.height_m),
            ("bait", "volume_m3", bait.volume_m3),
            ("bait", "wet_drag_area_m2", bait.wet_drag_area_m2),
            ("bait", "air_drag_area_m2", bait.air_drag_area_m2),
        ];
        let known = [
            ("kite_line", "strength_n", p.kite_line.strength_n),
            ("main_line", "strength_n", p.main_line.strength_n),
            ("band", "strength_n", p.band_strength_n),
            ("rod_holder", "strength_n", p.rod_holder_strength_n),
        ];
        values.extend(known.into_iter().filter_map(|(a, b, v)| Some((a, b, v?))));
        values
            .into_iter()
            .map(|(part, key, value)| (part, key, value, named(part, key)))
            .map(|(part, key, value, (name, unit))| RigEntry {
                name: name.to_owned(),
                unit: unit.to_owned(),
                grade: if self.assumed.iter().any(|a| *a == format!("{part}.{key}")) {
                    Grade::Assumed
                } else {
                    Grade::Measured
                },
                part: part.replace('_', " "),
                key: key.to_owned(),
                value: significant(value),
            })
            .collect()
    }
}

/// Name and unit of a value: as on its form, or here where a page has none.
fn named(part: &str, key: &str) -> (&'static str, &'static str) {
    match (part, key) {
        ("bait", "volume_m3") => ("Bait volume", "m³"),
        ("bait", "wet_drag_area_m2") => ("Bait's drag in the water, as an area", "m²"),
        ("bait", "air_drag_area_m2") => ("Bait's drag in the air, as an area", "m²"),
        ("band" | "rod_holder", key) => on_form(&format!("rig.{part}_{key}")),
        (part, key) => on_form(&format!("rig.{part}.{key}")),
    }
}

fn on_form(key: &str) -> (&'static str, &'static str) {
    let editable = EDITABLES.iter().find(|editable| editable.key == key);
    editable.map_or(("", ""), |editable| match editable.kind {
        Kind::Number(unit, _, _) => (editable.name, unit),
        Kind::Words(_) | Kind::Text(_) => (editable.name, ""),
    })
}

/// A value as people write it: four significant digits, no exponent.
fn significant(value: f64) -> String {
    let rounded: f64 = format!("{value:.3e}").parse().unwrap_or(value);
    rounded.to_string()
}

/// Kite presets by the wind they are made for.
const KITES: &[(&str, KiteSize)] = &[
    ("light", KiteSize::Light),
    ("medium", KiteSize::Medium),
    ("strong", KiteSize::Strong),
];

/// Newtons in a pound of force (definition: 0.45359237 kg times 9.80665 m/s2).
const NEWTONS_PER_LBF: f64 = 0.453_592_37 * 9.806_65;

/// Mass of a balloon. Invented, typical.
const MARKER_MASS_KG: f64 = 0.006;

/// Gathers what was assumed on the way.
struct Reading {
    assumed: Vec<String>,
}

impl Reading {
    /// The value of the file, else the assumed one.
    fn or_assumed(
        &mut self,
        section: &Section<'_>,
        part: &str,
        key: &'static str,
        assumed: f64,
    ) -> f64 {
        section.any_number(key).unwrap_or_else(|| {
            self.assumed.push(format!("{part}.{key}"));
            assumed
        })
    }
}

pub(super) fn read(section: Section<'_>, boat: Option<&BoatSettings>) -> Option<RigSettings> {
    let mut reading = Reading {
        assumed: Vec::new(),
    };
    let kite = read_kite(&section, &mut reading);
    let kite_line = read_kite_line(&section, &mut reading);
    let main_line = read_main_line(&section, &mut reading);
    let marker = read_marker(&section, &mut reading);
    let bait = read_bait(&section, &mut reading);
    let typical = RigParameters::default();
    let air = section.any_number("air_density_kg_per_m3");
    let water = section.any_number("water_density_kg_per_m3");
    let band = section.any_number("band_strength_n");
    let holder = section.any_number("rod_holder_strength_n");
    let waves = section.any_number("significant_wave_height_m");
    let out_at_start = read_out_at_start(&section);
    let parameters = (|| {
        let boat = boat?;
        Some(RigParameters {
            rod_tips: RodTips {
                kite: tip(boat.rod_tip_kite),
                main: tip(boat.rod_tip_main),
            },
            kite: kite?,
            kite_line: kite_line?,
            main_line: main_line?,
            marker: marker?,
            bait: bait?,
            band_strength_n: band,
            rod_holder_strength_n: holder,
            significant_wave_height_m: waves,
            air_density: air.unwrap_or(typical.air_density),
            water_density: water.unwrap_or(typical.water_density),
        })
    })();
    let checked = parameters.and_then(|parameters| match Rig::new(&parameters) {
        Ok(_) => Some(parameters),
        Err(errors) => {
            for error in errors {
                section.complain(
                    own_key(&error.key),
                    format!("must be {}", error.allowed),
                    "see the comments in config/skimwatch.toml for where to measure it",
                );
            }
            None
        }
    });
    section.finish();
    Some(RigSettings {
        parameters: checked?,
        out_at_start,
        assumed: reading.assumed,
    })
}

/// The key of the file for a key of the rig model.
fn own_key(key: &str) -> &str {
    match key {
        "air_density" => "air_density_kg_per_m3",
        "water_density" => "water_density_kg_per_m3",
        other => other,
    }
}

fn tip(place: BoatPoint) -> RodTip {
    RodTip {
        aft_m: place.aft_m,
        starboard_m: place.starboard_m,
        height_m: place.height_m,
    }
}

fn read_kite(rig: &Section<'_>, reading: &mut Reading) -> Option<Kite> {
    const CURE: &str = "write kite = \"light\", \"medium\" or \"strong\", or a section [rig.kite] with area_m2, mass_kg, cl, cd";
    if rig.holds_text("kite") {
        let size = rig.choice("kite", KITES)?;
        reading
            .assumed
            .extend(["area_m2", "mass_kg", "cl", "cd"].map(|key| format!("kite.{key}")));
        return Some(size.kite());
    }
    let section = rig.needed_section("kite", CURE)?;
    let preset = section.choice("preset", KITES).map(KiteSize::kite);
    if preset.is_none() && !section.is_absent("preset") {
        return None;
    }
    let mut number = |key, typical: fn(&Kite) -> f64, range, what| match &preset {
        Some(kite) => Some(reading.or_assumed(&section, "kite", key, typical(kite))),
        None => section.needed_number(key, range, what),
    };
    let area = number(
        "area_m2",
        |k| k.area_m2,
        0.1..=20.0,
        "sail area, or give preset as well",
    );
    let mass = number(
        "mass_kg",
        |k| k.mass_kg,
        0.01..=10.0,
        "weigh it with its spars",
    );
    let cl = number(
        "cl",
        |k| k.cl,
        0.05..=2.5,
        "lift coefficient, or give preset as well",
    );
    let cd = number(
        "cd",
        |k| k.cd,
        0.02..=2.5,
        "drag coefficient, or give preset as well",
    );
    let mut trim = Vec::new();
    for point in section.sections("trim") {
        let wind = point.needed_number("wind_mps", 0.0..=60.0, "apparent wind at the kite");
        let cl = point.needed_number("cl", 0.05..=2.5, "lift coefficient in that wind");
        let cd = point.needed_number("cd", 0.02..=2.5, "drag coefficient in that wind");
        if let (Some(wind_mps), Some(cl), Some(cd)) = (wind, cl, cd) {
            trim.push(TrimPoint { wind_mps, cl, cd });
        }
        point.finish();
    }
    section.finish();
    Some(Kite {
        area_m2: area?,
        mass_kg: mass?,
        cl: cl?,
        cd: cd?,
        trim,
    })
}

/// A line's own numbers, or those of a braid of its rated strength.
fn read_line(
    section: &Section<'_>,
    part: &str,
    reading: &mut Reading,
) -> Option<(f64, f64, Option<f64>)> {
    let rated = section.number(
        "rated_lbf",
        20.0..=400.0,
        "breaking strength on the label of the braid, pounds",
    );
    let diameter = section.number(
        "diameter_mm",
        0.1..=5.0,
        "measure ten turns side by side and divide by ten",
    );
    let mass = section.number("mass_g_per_m", 0.01..=50.0, "weigh 100 m and divide");
    let strength = section.any_number("strength_n");
    let braid = rated.map(|lbf| presets::braid(lbf * NEWTONS_PER_LBF));
    if braid.is_none() {
        for (key, value) in [("diameter_mm", diameter), ("mass_g_per_m", mass)] {
            if value.is_none() && section.is_absent(key) && section.is_absent("rated_lbf") {
                section.missing(key, "give it, or rated_lbf (the braid's rated strength in pounds) from which it is estimated");
            }
        }
    } else {
        for (key, value) in [
            ("diameter_mm", diameter),
            ("mass_g_per_m", mass),
            ("strength_n", strength),
        ] {
            if value.is_none() {
                reading.assumed.push(format!("{part}.{key}"));
            }
        }
    }
    Some((
        diameter
            .map(|mm| mm / 1000.0)
            .or(braid.map(|b| b.diameter_m))?,
        mass.map(|g| g / 1000.0)
            .or(braid.map(|b| b.mass_per_m_kg))?,
        strength.or(braid.and_then(|b| b.strength_n)),
    ))
}

fn read_kite_line(rig: &Section<'_>, reading: &mut Reading) -> Option<KiteLine> {
    let section = rig.needed_section(
        "kite_line",
        "add [rig.kite_line] with clip_to_kite_m and rated_lbf",
    )?;
    let clip = section.needed_number("clip_to_kite_m", 1.0..=200.0, "line between clip and kite");
    let line = read_line(&section, "kite_line", reading);
    section.finish();
    let (diameter_m, mass_per_m_kg, strength_n) = line?;
    Some(KiteLine {
        clip_to_kite_m: clip?,
        diameter_m,
        mass_per_m_kg,
        strength_n,
    })
}

fn read_main_line(rig: &Section<'_>, reading: &mut Reading) -> Option<MainLineStuff> {
    let section = rig.needed_section("main_line", "add [rig.main_line] with rated_lbf")?;
    let line = read_line(&section, "main_line", reading);
    section.finish();
    let (diameter_m, mass_per_m_kg, strength_n) = line?;
    Some(MainLineStuff {
        diameter_m,
        mass_per_m_kg,
        strength_n,
    })
}

fn read_marker(rig: &Section<'_>, reading: &mut Reading) -> Option<Marker> {
    let section = rig.needed_section(
        "marker",
        "add [rig.marker] with above_bait_m and diameter_m",
    )?;
    let above = section.needed_number("above_bait_m", 0.5..=60.0, "line between marker and bait");
    let diameter = section.needed_number("diameter_m", 0.0..=1.5, "of the balloon, blown up");
    let mass_kg = reading.or_assumed(&section, "marker", "mass_kg", MARKER_MASS_KG);
    section.finish();
    Some(Marker {
        above_bait_m: above?,
        diameter_m: diameter?,
        mass_kg,
    })
}

fn read_bait(rig: &Section<'_>, reading: &mut Reading) -> Option<Bait> {
    let section = rig.needed_section("bait", "add [rig.bait] with length_m")?;
    let length = section.needed_number("length_m", 0.1..=0.7, "nose to fork of the tail");
    let typical = presets::bait(length.unwrap_or(0.32));
    let mut number = |key, assumed| reading.or_assumed(&section, "bait", key, assumed);
    let bait = Bait {
        mass_kg: number("mass_kg", typical.mass_kg),
        height_m: number("height_m", typical.height_m),
        volume_m3: number("volume_m3", typical.volume_m3),
        wet_drag_area_m2: number("wet_drag_area_m2", typical.wet_drag_area_m2),
        air_drag_area_m2: number("air_drag_area_m2", typical.air_drag_area_m2),
        planing: number("planing", typical.planing),
    };
    section.finish();
    length.map(|_| bait)
}

fn read_out_at_start(rig: &Section<'_>) -> LinesOut {
    let section = rig.section("out_at_start");
    let what = "line out when the bait first skips; leave it away and the crew is asked";
    let lines = LinesOut {
        kite_m: section.number("kite_m", 10.0..=LINE_OUT_MAX_M, what),
        main_m: section.number("main_m", 10.0..=LINE_OUT_MAX_M, what),
    };
    section.finish();
    lines
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_value_shown_has_a_name_and_coefficients_alone_no_unit() {
        let text = include_str!("../../config/demo.toml").replace(
            "band_strength_n",
            "rod_holder_strength_n = 400.0\nband_strength_n",
        );
        let settings = crate::settings::parse(&text, "demo.toml").unwrap();
        let entries = settings.rig.entries();
        assert_eq!(entries.len(), 21);
        for entry in entries {
            assert!(!entry.name.is_empty(), "{entry:?}");
            let plain = ["cl", "cd"].contains(&entry.key.as_str());
            assert_eq!(entry.unit.is_empty(), plain, "{entry:?}");
        }
    }
}
