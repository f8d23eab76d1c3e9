//! The numbers and words of a room's settings held to its table.

use serde::Serialize;
use serde_json::Value;

use super::complaint::Complaint;
use super::row::Section;

/// Complaints about all numbers and words of a room's settings; its first section is the struct itself, the
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
            let mut complaint = match values.get(key.name) {
                None => continue,
                Some(Value::String(text)) if key.allowed.holds_text(text) => continue,
                Some(Value::String(text)) => key.refuse(text),
                // JSON has no NaN: it comes as null.
                Some(value) => match value.as_f64().unwrap_or(f64::NAN) {
                    number if key.allowed.holds(number) => continue,
                    number => key.refuse(number),
                },
            };
            if !below.is_empty() {
                complaint.key = format!("{below}.{}", key.name);
            }
            complaints.push(complaint);
        }
    }
    complaints
}
