//! The text of the settings, one key at a time: finding its value, putting one in, taking it out.
//! In: text, a key with its sections; a number in it counts sections of a list from 1, as in
//! `boat.structure.2.from.aft_m`. Out: text with all else as it was. What keys mean is not known
//! here.

use std::collections::BTreeSet;
use std::ops::Range;

use toml_edit::{
    ArrayOfTables, Document, DocumentMut, InlineTable, Item, Key, Table, TableLike, Value,
};

use super::shown::SettingValue;

/// `kite = "medium"` says the same as a section with this.
pub(super) const KITE_PRESET: &str = "rig.kite.preset";
const KITE: &str = "rig.kite";

/// What a key leads to.
enum Target<'d> {
    Item(&'d Key, &'d Item),
    /// One section of a list.
    Section(&'d Table),
}

/// The way to a key: `None` when something else stands there, `Some(None)` when nothing does.
fn look_up<'d>(root: &'d Table, key: &str) -> Option<Option<Target<'d>>> {
    let mut target = Target::Section(root);
    for part in key.split('.') {
        let found = match target {
            Target::Section(table) => table.get_key_value(part),
            Target::Item(_, Item::ArrayOfTables(sections)) => {
                let index = part.parse::<usize>().ok()?.checked_sub(1)?;
                let Some(section) = sections.get(index) else {
                    return Some(None);
                };
                target = Target::Section(section);
                continue;
            }
            Target::Item(_, item) => item.as_table_like()?.get_key_value(part),
        };
        let Some((key, item)) = found else {
            return Some(None);
        };
        target = Target::Item(key, item);
    }
    Some(Some(target))
}

/// The value that the file gives.
pub(super) fn find(root: &Table, key: &str) -> Option<SettingValue> {
    let value = |key: &str| match look_up(root, key)?? {
        Target::Item(_, item) => item.as_value(),
        Target::Section(_) => None,
    };
    let found = match value(key) {
        None if key == KITE_PRESET => value(KITE).filter(|kite| kite.is_str()),
        found => found,
    };
    match found? {
        Value::Integer(whole) => Some(SettingValue::Number(*whole.value() as f64)),
        Value::Float(number) => Some(SettingValue::Number(*number.value())),
        Value::String(text) => Some(SettingValue::Word(text.value().clone())),
        _ => None,
    }
}

/// How many sections a list has; `None` when it is written in braces.
pub(super) fn sections(root: &Table, list: &str) -> Option<usize> {
    match look_up(root, list)? {
        None => Some(0),
        Some(Target::Item(_, Item::ArrayOfTables(sections))) => Some(sections.len()),
        Some(_) => None,
    }
}

/// `None` when the file has something else on the way to the key. The section after the last of a
/// list is begun, its name first.
pub(super) fn put_in(text: &str, key: &str, value: Value) -> Option<String> {
    let mut document: DocumentMut = text.parse().ok()?;
    let (path, last) = key.rsplit_once('.')?;
    let mut table: &mut dyn TableLike = document.as_table_mut();
    let (mut in_list, mut in_braces) = (false, false);
    let mut parts = path.split('.').peekable();
    while let Some(part) = parts.next() {
        let number = parts.next_if(|next| next.parse::<usize>().is_ok());
        let item = table.entry(part).or_insert_with(|| {
            if number.is_some() {
                Item::ArrayOfTables(ArrayOfTables::new())
            } else if in_list {
                Item::Value(Value::InlineTable(InlineTable::new()))
            } else {
                Item::Table(Table::new())
            }
        });
        if let Some(preset) = item.as_str().filter(|_| path == KITE) {
            let mut section = Table::new();
            section.insert("preset", Item::Value(preset.into()));
            *item = Item::Table(section);
        }
        let Some(number) = number else {
            in_braces = item.is_inline_table();
            table = item.as_table_like_mut()?;
            continue;
        };
        let sections = item.as_array_of_tables_mut()?;
        let index = number.parse::<usize>().ok()?.checked_sub(1)?;
        if index == sections.len() {
            let mut section = Table::new();
            section.insert("name", Item::Value("".into()));
            sections.push(section);
        }
        table = sections.get_mut(index)?;
        in_list = true;
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
            if in_braces {
                table.fmt();
            }
        }
    }
    Some(document.to_string())
}

/// Makes the lines of a key, or of a whole section, comments, so that neither a comment nor a value
/// is lost. A key that is not there needs nothing; `None` when its lines hold more than it.
pub(super) fn take_out(text: &str, key: &str) -> Option<String> {
    let document = Document::parse(text).ok()?;
    let mut spans = Vec::new();
    match look_up(document.as_table(), key)? {
        None => return Some(text.to_owned()),
        Some(Target::Item(key, item)) => gather(Some(key), item, &mut spans)?,
        Some(Target::Section(section)) => gather_section(section, &mut spans)?,
    }
    let mut starts = BTreeSet::new();
    for span in spans {
        let line = text.get(..span.start)?.rfind('\n').map_or(0, |end| end + 1);
        // In braces a line holds more than this key.
        if text.get(line..span.start)?.contains(['{', '[', ',', '=']) {
            return None;
        }
        let further = text.get(span.clone())?.match_indices('\n');
        starts.insert(line);
        starts.extend(further.map(|(end, _)| span.start + end + 1));
    }
    let mut edited = text.to_owned();
    for start in starts.into_iter().rev() {
        edited.insert_str(start, "# ");
    }
    Some(edited)
}

/// Where an item stands: headers, and keys with their values.
fn gather(key: Option<&Key>, item: &Item, spans: &mut Vec<Range<usize>>) -> Option<()> {
    match item {
        Item::None => Some(()),
        Item::Value(value) => {
            spans.push(key?.span()?.start..value.span()?.end);
            Some(())
        }
        Item::Table(table) => gather_section(table, spans),
        Item::ArrayOfTables(sections) => sections
            .iter()
            .try_for_each(|section| gather_section(section, spans)),
    }
}

fn gather_section(table: &Table, spans: &mut Vec<Range<usize>>) -> Option<()> {
    if !table.is_dotted() && !table.is_implicit() {
        spans.push(table.span()?);
    }
    table.iter().try_for_each(|(name, item)| {
        let key = table.get_key_value(name).map(|(key, _)| key);
        gather(key, item, spans)
    })
}
