//! Changing the text of the settings key by key, comments and all else left as they are.

use std::sync::Arc;

use toml_edit::{Document, DocumentMut, Item, Table, TableLike, Value};

use super::editable::{EDITABLES, Editable, Kind};
use super::{Complaint, Settings, SettingsError, parse};
use crate::decode::SettingChange;
use crate::engine::{EngineSettings, Revise};
use crate::serve::{Kept, SetUp, SettingEntry, SettingGrade, SettingValue};

/// Settings as they were written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SettingsText {
    /// What stands for the file in complaints.
    pub name: String,
    /// All of it.
    pub text: Arc<str>,
}

impl SettingsText {
    /// The settings with these changes.
    ///
    /// # Errors
    /// With every complaint about the keys and about what the settings would say.
    pub fn changed(&self, changes: &[SettingChange]) -> Result<Settings, SettingsError> {
        let text = edit(self, changes)?;
        parse(&text, &self.name)
    }
}

impl Revise for SettingsText {
    fn revise(&self, changes: &[SettingChange]) -> Option<EngineSettings> {
        self.changed(changes).ok()?.engine().ok()
    }

    fn text(&self) -> Arc<str> {
        Arc::clone(&self.text)
    }
}

/// A change to a value as a page sends it. Numbers keep six significant digits: nobody measures
/// finer, and the recording's sentence has room for no more.
#[must_use]
pub fn setting_change(key: String, value: Option<SettingValue>) -> SettingChange {
    let value = value.map(|value| match value {
        SettingValue::Word(word) => word,
        SettingValue::Number(number) => format!("{number:.5e}")
            .parse::<f64>()
            .unwrap_or(number)
            .to_string(),
    });
    SettingChange { key, value }
}

impl Settings {
    /// What is set, for the pages.
    #[must_use]
    pub fn set_up(&self, kept: Kept) -> SetUp {
        let document: Option<DocumentMut> = self.source.text.parse().ok();
        let written = |key: &str| document.as_ref().and_then(|d| find(d.as_table(), key));
        let entries = EDITABLES
            .iter()
            .map(|editable| entry(editable, written(editable.key), self))
            .collect();
        SetUp {
            units: self.units,
            rig: self.rig.entries(),
            bite_zone: self.bite_zone(),
            kept,
            entries,
            revision: 0,
        }
    }
}

fn entry(editable: &Editable, written: Option<SettingValue>, settings: &Settings) -> SettingEntry {
    let stand_in = || editable.stand_in.and_then(|stand_in| stand_in(settings));
    let (value, grade) = match written {
        Some(value) => (Some(value), SettingGrade::Own),
        None => match stand_in() {
            Some(SettingValue::Number(value)) => {
                let rounded = format!("{value:.3e}").parse().unwrap_or(value);
                (Some(SettingValue::Number(rounded)), SettingGrade::Assumed)
            }
            Some(word) => (Some(word), SettingGrade::Assumed),
            None => (None, SettingGrade::Unset),
        },
    };
    let (unit, range, words): (_, _, &'static [_]) = match editable.kind {
        Kind::Number(unit, least, most) => (unit, Some([least, most]), &[]),
        Kind::Words(words) => ("", None, words),
    };
    SettingEntry {
        key: editable.key,
        group: editable.group,
        name: editable.name,
        explanation: editable.explanation,
        value,
        grade,
        unit,
        range,
        words,
        optional: editable.stand_in.is_some(),
    }
}

/// The value that the file gives.
fn find(root: &Table, key: &str) -> Option<SettingValue> {
    let mut parts = key.split('.').peekable();
    let mut table: &dyn TableLike = root;
    while let Some(part) = parts.next() {
        let item = table.get(part)?;
        // kite = "medium" says the same as a section with a preset.
        let shorthand = key == KITE_PRESET && part == "kite" && item.is_str();
        if parts.peek().is_none() || shorthand {
            return match item.as_value()? {
                Value::Integer(whole) => Some(SettingValue::Number(*whole.value() as f64)),
                Value::Float(number) => Some(SettingValue::Number(*number.value())),
                Value::String(text) => Some(SettingValue::Word(text.value().clone())),
                _ => None,
            };
        }
        table = item.as_table_like()?;
    }
    None
}

const KITE_PRESET: &str = "rig.kite.preset";

/// The text with these changes; that it makes sense is for the reader to say.
fn edit(source: &SettingsText, changes: &[SettingChange]) -> Result<String, SettingsError> {
    let mut complaints = Vec::new();
    let mut complain = |change: &SettingChange, problem: String, cure: &str| {
        complaints.push(Complaint {
            file: source.name.clone(),
            line: None,
            key: change.key.clone(),
            value: change.value.clone(),
            problem,
            cure: cure.to_owned(),
        });
    };
    let mut text = source.text.to_string();
    for change in changes {
        let Some(editable) = EDITABLES.iter().find(|e| e.key == change.key) else {
            complain(
                change,
                "cannot be changed while the program runs".to_owned(),
                "change the settings file by hand and start the program again",
            );
            continue;
        };
        let done = match &change.value {
            None => take_out(&text, editable.key),
            Some(value) => match read(value, editable.kind) {
                Some(value) => put_in(&text, editable.key, value),
                None => {
                    complain(change, wanted(editable.kind), editable.explanation);
                    continue;
                }
            },
        };
        match done {
            Some(edited) => text = edited,
            None => complain(
                change,
                "cannot be put where the file has it".to_owned(),
                "change the settings file by hand and start the program again",
            ),
        }
    }
    if complaints.is_empty() {
        Ok(text)
    } else {
        Err(SettingsError::Wrong { complaints })
    }
}

fn read(text: &str, kind: Kind) -> Option<Value> {
    match kind {
        Kind::Number(_, least, most) => {
            let number: f64 = text.parse().ok()?;
            (least..=most)
                .contains(&number)
                .then(|| Value::from(number))
        }
        Kind::Words(words) => words.contains(&text).then(|| Value::from(text)),
    }
}

fn wanted(kind: Kind) -> String {
    match kind {
        Kind::Number(_, least, most) => format!("must be {least} to {most}"),
        Kind::Words(words) => format!("must be {}", words.join(" or ")),
    }
}

/// `None` when the file has something else on the way to the key.
fn put_in(text: &str, key: &str, value: Value) -> Option<String> {
    let mut document: DocumentMut = text.parse().ok()?;
    let (sections, last) = key.rsplit_once('.')?;
    let mut table: &mut dyn TableLike = document.as_table_mut();
    for part in sections.split('.') {
        let item = table
            .entry(part)
            .or_insert_with(|| Item::Table(Table::new()));
        if let Some(preset) = item.as_str().filter(|_| sections == "rig.kite") {
            let mut section = Table::new();
            section.insert("preset", Item::Value(preset.into()));
            *item = Item::Table(section);
        }
        table = item.as_table_like_mut()?;
    }
    match table.get_mut(last) {
        Some(item) => {
            let old = item.as_value_mut()?;
            let decor = old.decor().clone();
            *old = value;
            *old.decor_mut() = decor;
        }
        None => {
            table.insert(last, Item::Value(value));
        }
    }
    Some(document.to_string())
}

/// Makes the line of a key a comment, so that neither its own comment nor its value is lost. A key
/// that is not there needs nothing.
fn take_out(text: &str, key: &str) -> Option<String> {
    let document = Document::parse(text).ok()?;
    let (sections, last) = key.rsplit_once('.')?;
    let mut table: &dyn TableLike = document.as_table();
    for part in sections.split('.') {
        match table.get(part) {
            Some(item) => table = item.as_table_like()?,
            None => return Some(text.to_owned()),
        }
    }
    let Some((name, _)) = table.get_key_value(last) else {
        return Some(text.to_owned());
    };
    let start = name.span()?.start;
    let line_start = text.get(..start)?.rfind('\n').map_or(0, |end| end + 1);
    // Inside braces a line holds more than this key.
    if !text.get(line_start..start)?.trim().is_empty() {
        return None;
    }
    let mut edited = text.to_owned();
    edited.insert_str(line_start, "# ");
    Some(edited)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TYPICAL: &str = include_str!("../../config/skimwatch.toml");
    const DEMO: &str = include_str!("../../config/demo.toml");

    fn settings(text: &str) -> Settings {
        parse(text, "test.toml").unwrap()
    }

    fn change(key: &str, value: Option<&str>) -> SettingChange {
        SettingChange {
            key: key.to_owned(),
            value: value.map(str::to_owned),
        }
    }

    /// Lines of `after` that `before` does not have, and the other way round.
    fn differences(before: &str, after: &str) -> (Vec<String>, Vec<String>) {
        let only = |a: &str, b: &str| -> Vec<String> {
            let b: Vec<_> = b.lines().collect();
            a.lines()
                .filter(|line| !b.contains(line))
                .map(str::to_owned)
                .collect()
        };
        (only(before, after), only(after, before))
    }

    #[test]
    fn ranges_are_those_of_the_reader() {
        for text in [TYPICAL, DEMO] {
            let whole = settings(text);
            for editable in EDITABLES {
                let Kind::Number(_, least, most) = editable.kind else {
                    continue;
                };
                let tried = |value: f64| {
                    let edited = put_in(&whole.source.text, editable.key, Value::from(value));
                    parse(&edited.unwrap(), "test.toml")
                };
                for value in [least, most] {
                    // What is estimated from it may be out of its own range.
                    let said = tried(value).err().map(|e| e.to_string());
                    assert!(
                        !said.clone().unwrap_or_default().contains(editable.key),
                        "{value}: {said:?}"
                    );
                }
                let margin = 0.001 * (most - least);
                for value in [least - margin, most + margin] {
                    let said = tried(value).unwrap_err().to_string();
                    assert!(said.contains(editable.key), "{value}: {said}");
                }
            }
        }
    }

    #[test]
    fn every_value_can_be_set_and_stands_where_it_was() {
        for text in [TYPICAL, DEMO] {
            let before = settings(text);
            for editable in EDITABLES {
                let value = match editable.kind {
                    Kind::Number(_, least, most) => SettingValue::Number((least + most) / 2.0),
                    Kind::Words(words) => SettingValue::Word((*words.last().unwrap()).to_owned()),
                };
                let wanted = setting_change(editable.key.to_owned(), Some(value.clone()));
                let after = before.source.changed(&[wanted]).unwrap();
                let entry = after
                    .set_up(Kept::Memory)
                    .entries
                    .into_iter()
                    .find(|e| e.key == editable.key)
                    .unwrap();
                assert_eq!(entry.grade, SettingGrade::Own, "{}", editable.key);
                match (entry.value.unwrap(), value) {
                    (SettingValue::Number(a), SettingValue::Number(b)) => {
                        assert!((a - b).abs() <= 1e-5 * b.abs(), "{}: {a} {b}", editable.key);
                    }
                    (a, b) => assert_eq!(a, b),
                }
                // Comments all stay, and at most one line goes.
                let (gone, new) = differences(text, &after.source.text);
                assert!(gone.len() <= 1, "{}: {gone:?}", editable.key);
                assert!(gone.iter().all(|line| !line.starts_with('#')), "{gone:?}");
                assert!((1..=3).contains(&new.len()), "{}: {new:?}", editable.key);
            }
        }
    }

    #[test]
    fn what_is_taken_out_becomes_a_comment() {
        let before = settings(TYPICAL);
        let changes = [
            change("rig.kite_line.rated_lbf", None),
            change("rig.kite_line.diameter_mm", Some("0.55")),
            change("rig.kite_line.mass_g_per_m", Some("0.2")),
        ];
        let after = before.source.changed(&changes).unwrap();
        let (gone, new) = differences(TYPICAL, &after.source.text);
        assert_eq!(gone, ["rated_lbf = 80"]);
        assert_eq!(
            new,
            [
                "diameter_mm = 0.55",
                "mass_g_per_m = 0.2",
                "# rated_lbf = 80"
            ]
        );
        assert_eq!(after.rig.parameters.kite_line.diameter_m, 0.55 / 1000.0);
        assert_eq!(after.rig.parameters.kite_line.strength_n, None);
        // What is not there is out already.
        let same = after.source.changed(&[change("rig.band_strength_n", None)]);
        assert_eq!(same.unwrap().source.text, after.source.text);
    }

    #[test]
    fn a_kite_by_one_word_takes_numbers_too() {
        let text = DEMO.replace(
            "[rig.kite]\narea_m2 = 1.3\nmass_kg = 0.35\ncl = 0.75\ncd = 0.45\n",
            "",
        );
        let text = text.replace("[rig]\n", "[rig]\nkite = \"light\"\n");
        let before = settings(&text);
        let entries = before.set_up(Kept::Memory).entries;
        let preset = entries.iter().find(|e| e.key == KITE_PRESET).unwrap();
        assert_eq!(preset.value, Some(SettingValue::Word("light".to_owned())));
        let after = before
            .source
            .changed(&[change("rig.kite.area_m2", Some("1.5"))])
            .unwrap();
        assert_eq!(after.rig.parameters.kite.area_m2, 1.5);
        assert_eq!(after.rig.parameters.kite.cd, before.rig.parameters.kite.cd);
    }

    #[test]
    fn complaints_name_the_key_and_nothing_is_changed() {
        let before = settings(DEMO);
        for (key, value, word) in [
            ("rig.kite.area_m2", Some("21"), "0.1 to 20"),
            ("rig.kite.area_m2", Some("NaN"), "0.1 to 20"),
            ("rig.kite.area_m2", None, "missing"),
            ("rig.marker.diameter_m", None, "missing"),
            ("boat.rod_tip_kite.aft_m", None, "cannot be put"),
            ("crew.length", Some("cubits"), "m or ft"),
            ("serve.bind", Some("0.0.0.0:80"), "cannot be changed"),
            ("rig.kite.area_m2\"", Some("1"), "cannot be changed"),
        ] {
            let said = before.source.changed(&[change(key, value)]).unwrap_err();
            let SettingsError::Wrong { complaints } = said else {
                panic!("{said}");
            };
            assert_eq!(complaints.len(), 1, "{complaints:?}");
            assert_eq!(complaints[0].key, key);
            assert!(complaints[0].problem.contains(word), "{complaints:?}");
        }
    }

    #[test]
    fn every_key_and_value_fits_the_crew_sentence() {
        use crate::decode::crew_sentence::{MAX_SETTING_KEY, MAX_SETTING_VALUE};
        for editable in EDITABLES {
            assert!(editable.key.len() <= MAX_SETTING_KEY, "{}", editable.key);
            if let Kind::Number(_, least, most) = editable.kind {
                for part in [0.0, 0.123_456_789, 0.987_654_321, 1.0] {
                    let value = least + part * (most - least);
                    let change = setting_change(String::new(), Some(SettingValue::Number(value)));
                    assert!(change.value.unwrap().len() <= MAX_SETTING_VALUE);
                }
            }
        }
    }
}
