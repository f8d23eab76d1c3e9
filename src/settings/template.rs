//! The commented settings file for a typical boat, written from the key table.

use std::fmt::Write as _;

use super::keys::sections;
use crate::key::{Allowed, Fallback, Key, Section, sentence};

/// Longest line of a comment.
const WIDTH: usize = 98;

const HEAD: &str = "Settings of skimwatch for a typical boat, as `skimwatch settings` prints them. Copy the \
file, change it, then try it with `skimwatch check --settings FILE`. Keys carry their units. A key \
that does not exist, a value that is not allowed and a missing value are all told at once, with the \
line and the cure. A line that begins with \"# \" and holds a key shows its default, or an example \
where there is none.";

/// The settings file for a typical boat with a comment for every key.
#[must_use]
pub fn template() -> String {
    let mut text = String::new();
    comment(&mut text, HEAD);
    let mut last = "";
    for section in sections() {
        if section.name != last {
            begin(&mut text, section);
        }
        last = section.name;
        write_keys(&mut text, section);
        text.push_str(section.examples.trim_end());
        if !section.examples.is_empty() {
            text.push('\n');
        }
    }
    text
}

/// Heading, what the section is for, and its name.
fn begin(text: &mut String, section: &Section) {
    text.push('\n');
    if !section.heading.is_empty() {
        let start = format!("# ---- {} ", section.heading);
        let _ = writeln!(text, "{start:-<WIDTH$}\n");
    }
    if !section.about.is_empty() {
        comment(text, section.about);
    }
    let mark = if section.is_comment { "# " } else { "" };
    let name = section.name;
    let _ = if section.is_list {
        writeln!(text, "{mark}[[{name}]]")
    } else {
        writeln!(text, "{mark}[{name}]")
    };
}

fn write_keys(text: &mut String, section: &Section) {
    let mut last: Option<&Key> = None;
    let mut keys = section.keys;
    while let Some(first) = keys.first() {
        // What stands in braces goes on one line.
        let head = first.name.split_once('.').map(|(head, _)| head);
        let count = keys
            .iter()
            .take_while(|key| head.is_none() || key.name.split_once('.').map(|(h, _)| h) == head)
            .count();
        let (these, rest) = keys.split_at(if head.is_some() { count } else { 1 });
        for key in these {
            let part = key.name.split_once('.').map(|(_, part)| part);
            let known = last.is_some_and(|last| last.allowed == key.allowed);
            let told = about(key, known && matches!(key.allowed, Allowed::List(_)));
            match part {
                Some(part) => comment(text, &format!("{part}: {told}")),
                None => comment(text, &told),
            }
            last = Some(key);
        }
        if !first.is_given {
            text.push_str("# ");
        }
        let _ = match head {
            None => writeln!(text, "{} = {}", first.name, value(first)),
            Some(head) => {
                let parts: Vec<_> = these
                    .iter()
                    .map(|key| format!("{} = {}", &key.name[head.len() + 1..], value(key)))
                    .collect();
                writeln!(text, "{head} = {{ {} }}", parts.join(", "))
            }
        };
        keys = rest;
    }
}

/// What a key is, where to measure it, what is allowed and what is so by default.
fn about(key: &Key, without_form: bool) -> String {
    let mut text = key.explanation();
    if without_form {
        return text;
    }
    let mut allowed = key.allowed.to_string();
    if !key.unit.is_empty() {
        allowed = format!("{allowed} {}", key.unit);
    }
    let fallback = match (key.fallback, key.allowed) {
        (Fallback::Needed, _) => "must be given".to_owned(),
        (Fallback::Nothing, Allowed::List(_)) => "empty by default".to_owned(),
        (Fallback::Nothing, _) => "no default".to_owned(),
        (Fallback::Estimate, _) => "estimated where not given".to_owned(),
        (Fallback::Number(number), _) => format!("default {number}"),
        (Fallback::Word(word), _) => format!("default \"{word}\""),
        (Fallback::Flag(flag), _) => format!("default {flag}"),
    };
    text.push(' ');
    text.push_str(&sentence(&format!("{allowed}; {fallback}")));
    text
}

/// The value shown, as TOML.
fn value(key: &Key) -> String {
    match (key.example, key.fallback) {
        ("", Fallback::Number(number)) if matches!(key.allowed, Allowed::Whole(..)) => {
            number.to_string()
        }
        ("", Fallback::Number(number)) => format!("{number:?}"),
        ("", Fallback::Word(word)) => format!("\"{word}\""),
        ("", Fallback::Flag(flag)) => flag.to_string(),
        ("", _) => "[]".to_owned(),
        (example, _) => example.to_owned(),
    }
}

fn comment(text: &mut String, words: &str) {
    let mut line = String::from("#");
    for word in words.split(' ') {
        if line.chars().count() + 1 + word.chars().count() > WIDTH {
            let _ = writeln!(text, "{line}");
            line = String::from("#");
        }
        line.push(' ');
        line.push_str(word);
    }
    let _ = writeln!(text, "{line}");
}
