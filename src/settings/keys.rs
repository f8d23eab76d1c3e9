//! The key table of the settings file: the sections of all rooms, in the order of the file.

use super::alerts::ALERTS;
use super::boat_keys::{BOAT, STRUCTURE};
use super::crew::CREW;
use super::learnt::LEARNT;
use super::locker_keys::LOCKER;
use super::outlets::{MQTT, WEBHOOK};
use super::restart::RESTART;
use super::rig_keys::RIG;
use super::serve::SERVE;
use crate::advice::ADVICE;
use crate::feed::FEED;
use crate::forecast::FORECAST;
use crate::key::{Key, Section};
use crate::logbook::LOGBOOK;
use crate::pass::PASS;
use crate::record::RECORD;
use crate::turn::TURN;
use crate::vessel::SOURCES;

const SECTIONS: &[&[Section]] = &[
    &[BOAT, STRUCTURE, FEED, SOURCES],
    &RIG,
    &LOCKER,
    &[TURN],
    &[
        FORECAST[0],
        LEARNT,
        FORECAST[1],
        FORECAST[2],
        FORECAST[3],
        FORECAST[4],
    ],
    &[ADVICE, PASS, SERVE, ALERTS, WEBHOOK, MQTT],
    &[CREW, RECORD, RESTART, LOGBOOK],
];

/// Keys that have another name now: old, new.
const RENAMED: &[(&str, &str)] = &[
    ("advice.raise_chance", "advice.alertness"),
    ("forecast.beliefs", "forecast.particles"),
    ("forecast.members", "forecast.futures"),
    ("rig.significant_wave_height_m", "forecast.sea.height_m"),
];

/// All sections of the file, in its order. A name that comes twice is one section.
pub fn sections() -> impl Iterator<Item = &'static Section> {
    SECTIONS.iter().flat_map(|part| part.iter())
}

/// All keys of the file, each under its whole name. Those of a list have no number:
/// "boat.structure.from.aft_m".
pub fn keys() -> impl Iterator<Item = (String, &'static Key)> {
    sections().flat_map(|section| section.keys.iter().map(|key| (section.key(key.name), key)))
}

/// The row of a key by its whole name.
pub(super) fn row(name: &str) -> Option<&'static Key> {
    sections()
        .filter_map(|section| Some((section, name.strip_prefix(section.name)?.strip_prefix('.')?)))
        .find_map(|(section, rest)| section.keys.iter().find(|key| key.name == rest))
}

/// The whole name that a key has now, if it was renamed.
pub(super) fn renamed(old: &str) -> Option<&'static str> {
    let (_, new) = RENAMED.iter().find(|(name, _)| *name == old)?;
    Some(new)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::key::Fallback;

    #[test]
    fn every_key_stands_once_and_says_what_it_is() {
        let mut names = BTreeSet::new();
        for (name, key) in keys() {
            assert!(names.insert(name.clone()), "{name} stands twice");
            assert_eq!(row(&name), Some(key), "{name}");
            assert!(!key.what.is_empty(), "{name}");
            assert!(!key.how.is_empty(), "{name}: where is it measured?");
            for text in [key.what, key.how] {
                assert!(!text.ends_with('.'), "{name}: {text}");
            }
            if let Fallback::Number(default) = key.fallback {
                assert!(key.allowed.holds(default), "{name}");
            }
            if let Fallback::Word(default) = key.fallback {
                assert!(key.allowed.holds_text(default), "{name}");
            }
        }
    }

    #[test]
    fn renamed_keys_lead_to_keys() {
        for (old, new) in RENAMED {
            assert!(row(old).is_none(), "{old}");
            assert!(row(new).is_some(), "{new}");
        }
    }
}
