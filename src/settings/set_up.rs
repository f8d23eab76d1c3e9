//! What is set, put together for the pages.

use std::sync::Arc;

use toml_edit::DocumentMut;

use super::keys::sections;
use super::shown::{Kept, SetUp, SettingEntry};
use super::structures;
use super::toml_text::find;
use super::whole::Settings;
use crate::key::{Group, Key};

/// The keys outside lists that a page may change, each under its whole name, in the order of the
/// page.
pub(super) fn on_page() -> Vec<(String, Group, &'static Key)> {
    let mut found: Vec<_> = sections()
        .filter(|section| !section.is_list)
        .flat_map(|section| section.keys.iter().map(|key| (section.key(key.name), key)))
        .filter_map(|(name, key)| Some((name, key.page?.group, key)))
        .collect();
    found.sort_by_key(|(_, group, _)| *group);
    found
}

impl Settings {
    /// What is set, for the pages.
    #[must_use]
    pub fn set_up(&self, kept: Kept) -> SetUp {
        let document: Option<DocumentMut> = self.source.text.parse().ok();
        let written = |key: &str| document.as_ref().and_then(|d| find(d.as_table(), key));
        let entries = on_page()
            .into_iter()
            .filter_map(|(name, _, key)| {
                SettingEntry::new(key, &name, written(&name), self.rig.value(&name))
            })
            .collect();
        let structure = |number| structures::entry(number, &written);
        let count = document
            .as_ref()
            .and_then(|d| structures::count(d.as_table()));
        SetUp {
            structures: (1..=count.unwrap_or(0)).map(structure).collect(),
            next_structure: count
                .map(|count| count + 1)
                .filter(|next| *next <= structures::MOST)
                .map(structure),
            units: self.units,
            rig: self.rig.entries(),
            locker: Arc::clone(&self.locker),
            bite_zone: self.forecast.bite_zone,
            kept,
            entries,
            revision: 0,
        }
    }
}
