//! What stands on the boat, as a page changes it: `boat.structure.2.from.aft_m` and its like.
//! In: the text, a change. Out: what is allowed there. `boat.structure.2` without a value takes the
//! whole structure out, `boat.structure.2.to` its other end; those after it move up.

use toml_edit::{DocumentMut, Table};

use super::boat_keys::{STRUCTURE, STRUCTURE_KEYS};
use super::shown::{SettingEntry, SettingValue, StructureEntry};
use super::toml_text::sections;
use crate::decode::SettingChange;
use crate::key::{Key, Problem};

/// Most that a page may set; a file may have more.
pub(super) const MOST: usize = 20;

/// How many structures the file has; `None` when they are not written one a section.
pub(super) fn count(root: &Table) -> Option<usize> {
    sections(root, STRUCTURE.name)
}

/// A structure for the pages, or the empty one after the last.
pub(super) fn entry(
    number: usize,
    written: &impl Fn(&str) -> Option<SettingValue>,
) -> StructureEntry {
    let key = STRUCTURE.key(&number.to_string());
    let settings = STRUCTURE_KEYS
        .iter()
        .filter_map(|row| {
            let whole = format!("{key}.{}", row.name);
            SettingEntry::new(row, &whole, written(&whole), None)
        })
        .collect();
    StructureEntry { key, settings }
}

/// What a change of a structure is about.
pub(super) enum Part {
    /// The structure itself or its other end, which may only be taken out.
    Whole,
    /// One of its keys.
    Key(&'static Key),
}

/// What a change is about, or why it is not even tried, with the cure; `None` when it is no
/// structure's.
pub(super) fn wanted(
    change: &SettingChange,
    all: &[SettingChange],
    text: &str,
) -> Option<Result<Part, (Problem, &'static str)>> {
    let (number, part) = split(&change.key)?;
    let found = match part {
        "" | "to" => Part::Whole,
        part => Part::Key(STRUCTURE_KEYS.iter().find(|row| row.name == part)?),
    };
    Some(match refusal(change, all, text, number, &found) {
        Some((problem, cure)) => Err((Problem::Other(problem), cure)),
        None => Ok(found),
    })
}

fn refusal(
    change: &SettingChange,
    all: &[SettingChange],
    text: &str,
    number: usize,
    part: &Part,
) -> Option<(String, &'static str)> {
    let document = text.parse::<DocumentMut>().ok();
    let Some(count) = document.and_then(|d| count(d.as_table())) else {
        return Some((
            "cannot be changed here: the file does not give each structure a section".to_owned(),
            "write each structure as [[boat.structure]] by hand and start the program again",
        ));
    };
    let setting = change.value.is_some();
    let others = || {
        all.iter()
            .filter(|other| split(&other.key).is_some())
            .count()
    };
    if setting && matches!(part, Part::Whole) {
        Some((
            "can only be taken out as one".to_owned(),
            "set its parts one by one, as boat.structure.1.name",
        ))
    } else if number > count + usize::from(setting) {
        Some((
            format!("is not there: the boat has {count} structures"),
            "number them from 1; a new one has the number after the last",
        ))
    } else if number > MOST {
        Some((
            format!("is one too many: a page takes {MOST}"),
            "take one out first, or write it into the file by hand and start the program again",
        ))
    } else if change.key == STRUCTURE.key(&number.to_string()) && others() > 1 {
        Some((
            "cannot be taken out together with other changes of structures".to_owned(),
            "take one out at a time: those after it move up",
        ))
    } else {
        None
    }
}

/// Number and part of a structure's key.
fn split(key: &str) -> Option<(usize, &str)> {
    let rest = key.strip_prefix(STRUCTURE.name)?.strip_prefix('.')?;
    let (digits, part) = rest.split_once('.').unwrap_or((rest, ""));
    let number: usize = digits.parse().ok()?;
    (number > 0 && number.to_string() == digits).then_some((number, part))
}
