//! Sections that are a room's own settings type, key for key.
//!
//! The room's defaults say which keys there are and what type each has; the room's own check, by its
//! rows of the key table, says what is allowed. So a room can add a key without this one knowing.

use serde::Serialize;
use serde::de::DeserializeOwned;
use toml::{Table, Value};

use super::reader::Section;
use crate::key::Complaint;

/// Reads the section over the defaults of `T`. A wrong section gives the defaults, after a complaint.
pub(super) fn read<T>(section: Section<'_>, check: impl Fn(&T) -> Vec<Complaint>) -> T
where
    T: Default + Serialize + DeserializeOwned,
{
    let defaults = T::default();
    let Ok(mut table) = Table::try_from(&defaults) else {
        return defaults;
    };
    overlay(&section, &mut table);
    let settings = match table.try_into::<T>() {
        Ok(settings) => settings,
        Err(why) => {
            section.complain("", format!("cannot be used: {}", why.message()), "");
            return defaults;
        }
    };
    for complaint in check(&settings) {
        section.place(complaint);
    }
    section.finish();
    settings
}

fn overlay(section: &Section<'_>, table: &mut Table) {
    for (key, slot) in table {
        match slot {
            Value::Float(value) => *value = section.any_number(key).unwrap_or(*value),
            Value::Integer(value) => {
                if let Some(whole) = section.any_whole(key) {
                    *value = i64::try_from(whole).unwrap_or(i64::MAX);
                }
            }
            Value::Boolean(value) => *value = section.flag(key).unwrap_or(*value),
            Value::String(value) => {
                if let Some(text) = section.form(key) {
                    text.clone_into(value);
                }
            }
            Value::Table(below) => {
                let section = section.section(key);
                overlay(&section, below);
                section.finish();
            }
            // No room has lists or dates in its settings.
            Value::Array(_) | Value::Datetime(_) => {}
        }
    }
}
