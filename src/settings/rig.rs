//! `[rig]`: kite, lines, marker, bait.

use super::boat::{BoatPoint, BoatSettings};
use super::keys::row;
use super::reader::Section;
use super::rig_keys::{KITES, MARKER, OWN};
use super::shown::RigEntry;
use crate::key::{default_of, sentence};
use crate::locker::NEWTONS_PER_LBF;
use crate::rig::presets::{self, KiteSize};
use crate::rig::{
    Bait, Kite, KiteLine, MainLineStuff, Marker, Rig, RigParameters, RodTip, RodTips, TrimPoint,
};
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
    /// Every value of the rig that is known, under the key it has in the file, in its unit.
    fn values(&self) -> Vec<(&'static str, f64)> {
        let p = &self.parameters;
        let (kite, bait) = (&p.kite, &p.bait);
        let mut values = vec![
            ("rig.kite.area_m2", kite.area_m2),
            ("rig.kite.mass_kg", kite.mass_kg),
            ("rig.kite.cl", kite.cl),
            ("rig.kite.cd", kite.cd),
            ("rig.kite_line.clip_to_kite_m", p.kite_line.clip_to_kite_m),
            ("rig.kite_line.diameter_mm", p.kite_line.diameter_m * 1e3),
            (
                "rig.kite_line.mass_g_per_m",
                p.kite_line.mass_per_m_kg * 1e3,
            ),
            ("rig.main_line.diameter_mm", p.main_line.diameter_m * 1e3),
            (
                "rig.main_line.mass_g_per_m",
                p.main_line.mass_per_m_kg * 1e3,
            ),
            ("rig.marker.above_bait_m", p.marker.above_bait_m),
            ("rig.marker.diameter_m", p.marker.diameter_m),
            ("rig.marker.mass_kg", p.marker.mass_kg),
            ("rig.bait.mass_kg", bait.mass_kg),
            ("rig.bait.height_m", bait.height_m),
            ("rig.bait.volume_m3", bait.volume_m3),
            ("rig.bait.wet_drag_area_m2", bait.wet_drag_area_m2),
            ("rig.bait.air_drag_area_m2", bait.air_drag_area_m2),
        ];
        let strengths = [
            ("rig.kite_line.strength_n", p.kite_line.strength_n),
            ("rig.main_line.strength_n", p.main_line.strength_n),
            ("rig.band_strength_n", p.band_strength_n),
            ("rig.rod_holder_strength_n", p.rod_holder_strength_n),
        ];
        values.extend(strengths.into_iter().filter_map(|(key, v)| Some((key, v?))));
        values
    }

    /// The value of a key as the model takes it, given or estimated.
    pub(super) fn value(&self, key: &str) -> Option<f64> {
        let values = self.values();
        let (_, value) = values.iter().find(|(name, _)| *name == key)?;
        Some(*value)
    }

    /// Every value of the rig under the key it has in the file, for people to check.
    #[must_use]
    pub fn entries(&self) -> Vec<RigEntry> {
        self.values()
            .into_iter()
            .filter_map(|(name, value)| Some((name, value, row(name)?)))
            .map(|(name, value, row)| {
                let below = name.trim_start_matches("rig.");
                let (part, key) = match below.split_once('.') {
                    Some(parts) => parts,
                    // What stands in [rig] itself: the part is in the key's name.
                    None => below.split_at(below.find("_strength").unwrap_or(0)),
                };
                let assumed = self.assumed.iter().any(|assumed| assumed == below);
                RigEntry {
                    name: match row.page {
                        Some(page) => page.name.to_owned(),
                        None => sentence(row.what).trim_end_matches('.').to_owned(),
                    },
                    unit: row.unit.to_owned(),
                    grade: if assumed {
                        Grade::Assumed
                    } else {
                        Grade::Measured
                    },
                    part: part.replace('_', " "),
                    key: key.trim_start_matches('_').to_owned(),
                    value: significant(value),
                }
            })
            .collect()
    }
}

/// A value as people write it: four significant digits, no exponent.
fn significant(value: f64) -> String {
    let rounded: f64 = format!("{value:.3e}").parse().unwrap_or(value);
    rounded.to_string()
}

/// Gathers what was assumed on the way.
#[derive(Debug, Default)]
pub(super) struct Reading {
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
        section.number(key).unwrap_or_else(|| {
            self.assumed.push(format!("{part}.{key}"));
            assumed
        })
    }
}

pub(super) fn read(section: Section<'_>, boat: Option<&BoatSettings>) -> Option<RigSettings> {
    let mut reading = Reading::default();
    let kite = read_kite(&section, &mut reading);
    let kite_line = read_kite_line(&section, &mut reading);
    let main_line = read_main_line(&section, &mut reading);
    let marker = read_marker(&section, &mut reading);
    let bait = read_bait(&section, &mut reading);
    let air = section.number("air_density_kg_per_m3");
    let water = section.number("water_density_kg_per_m3");
    let band = section.number("band_strength_n");
    let holder = section.number("rod_holder_strength_n");
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
            air_density: air.unwrap_or(const { default_of(OWN, "air_density_kg_per_m3") }),
            water_density: water.unwrap_or(const { default_of(OWN, "water_density_kg_per_m3") }),
        })
    })();
    let checked = parameters.and_then(|parameters| match Rig::new(&parameters) {
        Ok(_) => Some(parameters),
        Err(errors) => {
            for error in errors {
                section.complain(
                    &error.key,
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
        let size = rig.choice_like("kite", "kite.preset", &KITES)?;
        reading
            .assumed
            .extend(["area_m2", "mass_kg", "cl", "cd"].map(|key| format!("kite.{key}")));
        return Some(size.kite());
    }
    let section = rig.needed_section("kite", CURE)?;
    let kite = kite(&section, reading);
    section.finish();
    kite
}

/// A kite from its section.
pub(super) fn kite(section: &Section<'_>, reading: &mut Reading) -> Option<Kite> {
    let preset = section.choice("preset", &KITES).map(KiteSize::kite);
    if preset.is_none() && !section.is_absent("preset") {
        return None;
    }
    let mut number = |key, typical: fn(&Kite) -> f64| match &preset {
        Some(kite) => Some(reading.or_assumed(section, "kite", key, typical(kite))),
        None => section.needed_number(key),
    };
    let area = number("area_m2", |k| k.area_m2);
    let mass = number("mass_kg", |k| k.mass_kg);
    let cl = number("cl", |k| k.cl);
    let cd = number("cd", |k| k.cd);
    let mut trim = Vec::new();
    for point in section.sections("trim") {
        let wind = point.needed_number("wind_mps");
        let cl = point.needed_number("cl");
        let cd = point.needed_number("cd");
        if let (Some(wind_mps), Some(cl), Some(cd)) = (wind, cl, cd) {
            trim.push(TrimPoint { wind_mps, cl, cd });
        }
        point.finish();
    }
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
    let rated = section.number("rated_lbf");
    let diameter = section.number("diameter_mm");
    let mass = section.number("mass_g_per_m");
    let strength = section.number("strength_n");
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
    let line = kite_line(&section, reading);
    section.finish();
    line
}

/// A kite line from its section.
pub(super) fn kite_line(section: &Section<'_>, reading: &mut Reading) -> Option<KiteLine> {
    let clip = section.needed_number("clip_to_kite_m");
    let (diameter_m, mass_per_m_kg, strength_n) = read_line(section, "kite_line", reading)?;
    Some(KiteLine {
        clip_to_kite_m: clip?,
        diameter_m,
        mass_per_m_kg,
        strength_n,
    })
}

fn read_main_line(rig: &Section<'_>, reading: &mut Reading) -> Option<MainLineStuff> {
    let section = rig.needed_section("main_line", "add [rig.main_line] with rated_lbf")?;
    let line = main_line(&section, reading);
    section.finish();
    line
}

/// A main line from its section.
pub(super) fn main_line(section: &Section<'_>, reading: &mut Reading) -> Option<MainLineStuff> {
    let (diameter_m, mass_per_m_kg, strength_n) = read_line(section, "main_line", reading)?;
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
    let marker = marker(&section, reading);
    section.finish();
    marker
}

/// A marker from its section.
pub(super) fn marker(section: &Section<'_>, reading: &mut Reading) -> Option<Marker> {
    let above = section.needed_number("above_bait_m");
    let diameter = section.needed_number("diameter_m");
    let mass_kg = reading.or_assumed(
        section,
        "marker",
        "mass_kg",
        const { default_of(MARKER, "mass_kg") },
    );
    Some(Marker {
        above_bait_m: above?,
        diameter_m: diameter?,
        mass_kg,
    })
}

fn read_bait(rig: &Section<'_>, reading: &mut Reading) -> Option<Bait> {
    let section = rig.needed_section("bait", "add [rig.bait] with length_m")?;
    let bait = bait(&section, reading);
    section.finish();
    bait
}

/// A bait from its section.
pub(super) fn bait(section: &Section<'_>, reading: &mut Reading) -> Option<Bait> {
    let length = section.needed_number("length_m");
    let typical = presets::bait(length.unwrap_or(0.32));
    let mut number = |key, assumed| reading.or_assumed(section, "bait", key, assumed);
    let bait = Bait {
        mass_kg: number("mass_kg", typical.mass_kg),
        height_m: number("height_m", typical.height_m),
        volume_m3: number("volume_m3", typical.volume_m3),
        wet_drag_area_m2: number("wet_drag_area_m2", typical.wet_drag_area_m2),
        air_drag_area_m2: number("air_drag_area_m2", typical.air_drag_area_m2),
        planing: number("planing", typical.planing),
    };
    length.map(|_| bait)
}

fn read_out_at_start(rig: &Section<'_>) -> LinesOut {
    let section = rig.section("out_at_start");
    let lines = LinesOut {
        kite_m: section.number("kite_m"),
        main_m: section.number("main_m"),
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
