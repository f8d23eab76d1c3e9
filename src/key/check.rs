//! The numbers of a room's settings held to its table.

use serde::Serialize;
use serde_json::Value;

use super::complaint::Complaint;
use super::row::Section;

/// Complaints about all numbers of a room's settings; its first section is the struct itself, the
/// others are structs in it. Keys are named below the first section.
#[must_use]
pub fn check<T: Serialize>(sections: &[Section], settings: &T) -> Vec<Complaint> {
    let whole = serde_json::to_value(settings).unwrap_or_default();
    let root = sections.first().map_or("", |section| section.name);
    let mut complaints = Vec::new();
    for section in sections {
        let below = section.name.strip_prefix(root).unwrap_or_default();
        let below = below.trim_start_matches('.');
        let values = if below.is_empty() {
            &whole
        } else {
            &whole[below]
        };
        for key in section.keys {
            // JSON has no NaN: it comes as null.
            let value = values.get(key.name).map(|value| match value {
                Value::Null => f64::NAN,
                value => value.as_f64().unwrap_or(f64::NAN),
            });
            let Some(value) = value.filter(|value| !key.allowed.holds(*value)) else {
                continue;
            };
            let mut complaint = key.refuse(value);
            if !below.is_empty() {
                complaint.key = format!("{below}.{}", key.name);
            }
            complaints.push(complaint);
        }
    }
    complaints
}
