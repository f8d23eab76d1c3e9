//! What somebody probably meant by a key that does not exist.

use strsim::levenshtein;

use crate::units::KNOT_MPS;

/// Units that end a key, each with its kind and its size in the first unit of that kind.
const UNITS: &[(&str, &str, f64)] = &[
    ("m", "length", 1.0),
    ("mm", "length", 0.001),
    ("cm", "length", 0.01),
    ("ft", "length", 0.3048),
    ("in", "length", 0.0254),
    ("mps", "speed", 1.0),
    ("kn", "speed", KNOT_MPS),
    ("kmh", "speed", 1.0 / 3.6),
    ("kg", "mass", 1.0),
    ("g", "mass", 0.001),
    ("lb", "mass", 0.453_592_37),
    ("oz", "mass", 0.028_349_523_125),
    ("n", "force", 1.0),
    ("lbf", "force", 4.448_221_615_260_5),
    ("kgf", "force", 9.806_65),
    ("deg", "angle", 1.0),
    ("rad", "angle", 180.0 / std::f64::consts::PI),
    ("s", "time", 1.0),
    ("ms", "time", 0.001),
    ("min", "time", 60.0),
    ("h", "time", 3600.0),
    ("mib", "size", 1.0),
    ("gib", "size", 1024.0),
    ("mb", "size", 1e6 / 1_048_576.0),
    ("gb", "size", 1e9 / 1_048_576.0),
];

/// The known key that was meant, and the value it would take when only the unit differs.
pub(super) struct Suggestion<'k> {
    pub key: &'k str,
    pub value: Option<f64>,
}

/// The most likely of the known keys for one that does not exist.
pub(super) fn suggest<'k>(
    unknown: &str,
    value: Option<f64>,
    known: &[&'k str],
) -> Option<Suggestion<'k>> {
    let (stem, unit) = split(unknown);
    let same_stem = known.iter().copied().find(|key| {
        let (known_stem, known_unit) = split(key);
        (unit.is_some() || known_unit.is_some()) && (known_stem == stem || known_stem == unknown)
    });
    if let Some(key) = same_stem {
        let converted = match (unit, split(key).1, value) {
            (Some(from), Some(to), Some(value)) if from.1 == to.1 => Some(value * from.2 / to.2),
            _ => None,
        };
        return Some(Suggestion {
            key,
            value: converted,
        });
    }
    known
        .iter()
        .copied()
        .map(|key| (levenshtein(unknown, key), key))
        .filter(|(distance, key)| *distance <= (key.len() / 3).clamp(1, 4))
        .min()
        .map(|(_, key)| Suggestion { key, value: None })
}

fn split(key: &str) -> (&str, Option<&'static (&'static str, &'static str, f64)>) {
    key.rsplit_once('_')
        .and_then(|(stem, end)| Some((stem, Some(UNITS.iter().find(|unit| unit.0 == end)?))))
        .unwrap_or((key, None))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrong_units_are_converted_and_slips_are_caught() {
        let known = ["wind_sensor_height_m", "position", "way_on_mps"];
        let found = suggest("wind_sensor_height_ft", Some(40.0), &known).unwrap();
        assert_eq!(found.key, "wind_sensor_height_m");
        // 1 ft = 0.3048 m (definition).
        assert!((found.value.unwrap() - 12.192).abs() < 1e-12);
        let found = suggest("way_on_kn", Some(1.0), &known).unwrap();
        // 1 kn = 1852 m an hour (definition).
        assert!((found.value.unwrap() - 1852.0 / 3600.0).abs() < 1e-12);
        assert_eq!(
            suggest("wind_sensor_height", None, &known).unwrap().key,
            known[0]
        );
        assert_eq!(suggest("postion", None, &known).unwrap().key, "position");
        assert_eq!(
            suggest("wind_sensor_height_kg", Some(1.0), &known)
                .unwrap()
                .value,
            None,
            "another kind of unit has no value"
        );
        assert!(suggest("colour", None, &known).is_none());
    }
}
