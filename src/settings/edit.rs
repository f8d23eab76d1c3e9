//! Changing the text of the settings key by key, comments and all else left as they are.

use toml_edit::Value;

use super::error::SettingsError;
use super::set_up::on_page;
use super::shown::SettingValue;
use super::structures::{self, Part};
use super::toml_text::{put_in, take_out};
use super::whole::{Settings, SettingsText, parse};
use crate::decode::SettingChange;
use crate::decode::crew_sentence::setting_fits;
use crate::key::{Allowed, Complaint, Key, Place, Problem};

impl Settings {
    /// The settings with these changes.
    ///
    /// # Errors
    /// With every complaint about the keys and about what the settings would say.
    pub fn changed(&self, changes: &[SettingChange]) -> Result<Self, SettingsError> {
        let text = edit(&self.source, changes)?;
        parse(&text, &self.source.name)
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

/// The text with these changes; that it makes sense is for the reader to say.
fn edit(source: &SettingsText, changes: &[SettingChange]) -> Result<String, SettingsError> {
    let mut complaints = Vec::new();
    let mut text = source.text.to_string();
    for change in changes {
        match one(&text, change, changes) {
            Ok(edited) => text = edited,
            Err((problem, cure)) => complaints.push(Complaint {
                place: Some(Place {
                    file: source.name.clone(),
                    line: None,
                }),
                key: change.key.clone(),
                value: change.value.clone(),
                problem,
                cure: cure.to_owned(),
            }),
        }
    }
    if complaints.is_empty() {
        Ok(text)
    } else {
        Err(SettingsError::Wrong { complaints })
    }
}

const BY_HAND: &str = "change the settings file by hand and start the program again";

/// What is wrong with a change, and the cure.
type Refusal = (Problem, &'static str);

/// The text with one of all the changes.
fn one(text: &str, change: &SettingChange, all: &[SettingChange]) -> Result<String, Refusal> {
    let key = wanted(text, change, all)?;
    let edited = match (&change.value, key) {
        (None, _) => take_out(text, &change.key),
        (Some(value), Some(key)) => {
            let value =
                read(value, key.allowed).ok_or((Problem::NotAllowed(key.allowed), key.cure()))?;
            if !setting_fits(change) {
                let problem =
                    "is too long for the recording: each accented letter takes six places or more";
                return Err((
                    Problem::Other(problem.to_owned()),
                    "use a shorter one or plain letters",
                ));
            }
            put_in(text, &change.key, value)
        }
        (Some(_), None) => None,
    };
    edited.ok_or_else(|| {
        let problem = "cannot be put where the file has it".to_owned();
        (Problem::Other(problem), BY_HAND)
    })
}

/// The row of the key that a change is about; `None` for a whole structure.
fn wanted(
    text: &str,
    change: &SettingChange,
    all: &[SettingChange],
) -> Result<Option<&'static Key>, Refusal> {
    let own = on_page().into_iter().find(|(name, ..)| *name == change.key);
    if let Some((.., key)) = own {
        return Ok(Some(key));
    }
    match structures::wanted(change, all, text) {
        Some(Ok(Part::Key(key))) => Ok(Some(key)),
        Some(Ok(Part::Whole)) => Ok(None),
        Some(Err(refusal)) => Err(refusal),
        None => {
            let problem = "cannot be changed while the program runs".to_owned();
            Err((Problem::Other(problem), BY_HAND))
        }
    }
}

/// The value of a text, if it is allowed.
fn read(text: &str, allowed: Allowed) -> Option<Value> {
    match allowed {
        Allowed::Number(..) => {
            let number = text.parse().ok().filter(|number| allowed.holds(*number))?;
            Some(Value::from(number))
        }
        Allowed::Words(_) | Allowed::Text(_) => allowed.holds_text(text).then(|| Value::from(text)),
        // No page changes any of these.
        Allowed::Whole(..) | Allowed::Flag | Allowed::Form(_) | Allowed::List(_) => None,
    }
}

#[cfg(test)]
mod tests;
