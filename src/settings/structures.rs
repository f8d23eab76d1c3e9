//! What stands on the boat, as a page changes it: `boat.structure.2.from.aft_m` and its like.
//! In: the text, a change. Out: what is allowed there. `boat.structure.2` without a value takes the
//! whole structure out, `boat.structure.2.to` its other end; those after it move up.

use toml_edit::{DocumentMut, Table};

use super::Settings;
use super::boat::{CLEARANCE_M, LONGEST_NAME};
use super::edit;
use super::editable::{Editable, Kind, needed, nothing, number, optional};
use super::toml_text::sections;
use crate::decode::SettingChange;
use crate::serve::{SettingValue, StructureEntry};

/// Most that a page may set; a file may have more.
pub(super) const MOST: usize = 20;

const LIST: &str = "boat.structure";
const GROUP: &str = "Boat structure";

const AFT: &str =
    "From the middle of the transom; forward of it is negative. Outriggers: as you fish them.";
const STARBOARD: &str = "From the boat's middle line; to port is negative.";
const HEIGHT: &str = "From the water, boat loaded as you fish.";
const OTHER_END: &str = "For a straight bar. Leave all three of the other end empty for a point.";

/// What belongs to one structure, under the end of its key.
pub(super) const PARTS: &[Editable] = &[
    needed(
        GROUP,
        "name",
        "Name",
        Kind::Text(LONGEST_NAME),
        "What the crew calls it; the advice names it.",
    ),
    needed(
        GROUP,
        "from.aft_m",
        "One end, astern",
        Kind::Number("m", -40.0, 10.0),
        AFT,
    ),
    needed(
        GROUP,
        "from.starboard_m",
        "One end, to starboard",
        Kind::Number("m", -15.0, 15.0),
        STARBOARD,
    ),
    needed(
        GROUP,
        "from.height_m",
        "One end, height",
        Kind::Number("m", 0.0, 25.0),
        HEIGHT,
    ),
    optional(
        GROUP,
        "to.aft_m",
        "Other end, astern",
        Kind::Number("m", -40.0, 10.0),
        OTHER_END,
        nothing,
    ),
    optional(
        GROUP,
        "to.starboard_m",
        "Other end, to starboard",
        Kind::Number("m", -15.0, 15.0),
        OTHER_END,
        nothing,
    ),
    optional(
        GROUP,
        "to.height_m",
        "Other end, height",
        Kind::Number("m", 0.0, 25.0),
        OTHER_END,
        nothing,
    ),
    optional(
        GROUP,
        "clearance_m",
        "Keep lines off by",
        Kind::Number("m", 0.1, 10.0),
        "A line nearer than this fouls it. Heel and roll are not reckoned with: leave room for them.",
        |_| number(CLEARANCE_M),
    ),
];

/// What may be taken out but not set: the structure itself, and its other end.
const WHOLE: Editable = needed(
    GROUP,
    "",
    "Structure",
    Kind::Words(&[]),
    "Taken out as one.",
);

/// How many structures the file has; `None` when they are not written one a section.
pub(super) fn count(root: &Table) -> Option<usize> {
    sections(root, LIST)
}

/// A structure for the pages, or the empty one after the last.
pub(super) fn entry(
    number: usize,
    written: &impl Fn(&str) -> Option<SettingValue>,
    settings: &Settings,
) -> StructureEntry {
    let key = format!("{LIST}.{number}");
    let settings = PARTS
        .iter()
        .map(|part| {
            let whole = format!("{key}.{}", part.key);
            edit::entry(part, &whole, written(&whole), settings)
        })
        .collect();
    StructureEntry { key, settings }
}

type Answer = Result<&'static Editable, (String, &'static str)>;

/// What is allowed at the key of a change, or why nothing is; `None` when it is no structure's.
pub(super) fn wanted(change: &SettingChange, all: &[SettingChange], text: &str) -> Option<Answer> {
    let (number, part) = split(&change.key)?;
    let found = match part {
        "" | "to" => &WHOLE,
        part => PARTS.iter().find(|p| p.key == part)?,
    };
    Some(check(change, all, text, number, found))
}

fn check(
    change: &SettingChange,
    all: &[SettingChange],
    text: &str,
    number: usize,
    part: &'static Editable,
) -> Answer {
    let document = text.parse::<DocumentMut>().ok();
    let Some(count) = document.and_then(|d| count(d.as_table())) else {
        return Err((
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
    if setting && part.key.is_empty() {
        Err((
            "can only be taken out as one".to_owned(),
            "set its parts one by one, as boat.structure.1.name",
        ))
    } else if number > count + usize::from(setting) {
        Err((
            format!("is not there: the boat has {count} structures"),
            "number them from 1; a new one has the number after the last",
        ))
    } else if number > MOST {
        Err((
            format!("is one too many: a page takes {MOST}"),
            "take one out first, or write it into the file by hand and start the program again",
        ))
    } else if change.key == format!("{LIST}.{number}") && others() > 1 {
        Err((
            "cannot be taken out together with other changes of structures".to_owned(),
            "take one out at a time: those after it move up",
        ))
    } else {
        Ok(part)
    }
}

/// Number and part of a structure's key.
fn split(key: &str) -> Option<(usize, &str)> {
    let rest = key.strip_prefix(LIST)?.strip_prefix('.')?;
    let (digits, part) = rest.split_once('.').unwrap_or((rest, ""));
    let number: usize = digits.parse().ok()?;
    (number > 0 && number.to_string() == digits).then_some((number, part))
}
