//! Reads sections of a TOML document key by key and gathers every complaint. What a value may be
//! comes from the key table.
//!
//! Only what a section asks for is known; whatever is left over at its end is an unknown key.

use std::cell::RefCell;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::document::Document;
use super::keys::{renamed, row};
use super::suggest::suggest;
use crate::key::{Complaint, Key, Problem};

/// One table of the document.
pub(super) struct Section<'d> {
    document: &'d Document<'d>,
    table: Option<&'d DeTable<'d>>,
    span: Option<Range<usize>>,
    /// Its name in messages.
    path: String,
    /// Its name in the key table, which has no numbers.
    table_path: String,
    known: RefCell<Vec<String>>,
}

impl<'d> Section<'d> {
    pub fn root(document: &'d Document<'d>, table: &'d DeTable<'d>) -> Self {
        Self {
            document,
            table: Some(table),
            span: None,
            path: String::new(),
            table_path: String::new(),
            known: RefCell::default(),
        }
    }

    /// Whether the section stands in the file.
    pub fn is_present(&self) -> bool {
        self.table.is_some()
    }

    /// Replaces the last part of its name in messages.
    pub fn rename(&mut self, name: &str) {
        let parent = self.path.rsplit_once('.').map(|(parent, _)| parent);
        self.path = match parent {
            Some(parent) => format!("{parent}.{name}"),
            None => name.to_owned(),
        };
    }

    fn key(&self, key: &str) -> String {
        joined(&self.path, key)
    }

    /// The row of a key. Without one no value is allowed.
    fn row(&self, key: &str) -> &'static Key {
        const NONE: Key = Key::words("", &[]);
        row(&joined(&self.table_path, key)).unwrap_or(&NONE)
    }

    fn value(&self, key: &str) -> Option<&'d Spanned<DeValue<'d>>> {
        let mut known = self.known.borrow_mut();
        if !known.iter().any(|k| k == key) {
            known.push(key.to_owned());
        }
        let (_, value) = self
            .table?
            .iter()
            .find(|(name, _)| name.get_ref().as_ref() == key)?;
        Some(value)
    }

    /// Complains about the value of a key, or of the section when the key is not there. A dotted
    /// key reaches into tables below.
    pub fn complain(&self, key: &str, problem: impl Into<String>, cure: impl Into<String>) {
        self.say(key, Problem::Other(problem.into()), cure);
    }

    /// Adds a complaint of a room about its own settings.
    pub fn place(&self, complaint: Complaint) {
        self.say(&complaint.key, complaint.problem, complaint.cure);
    }

    /// Complains that a value is not what the table allows.
    fn refuse(&self, key: &str) {
        self.refuse_like(key, key);
    }

    fn refuse_like(&self, key: &str, other: &str) {
        let row = self.row(other);
        self.say(key, Problem::NotAllowed(row.allowed), row.cure());
    }

    fn say(&self, key: &str, problem: Problem, cure: impl Into<String>) {
        let mut span = self.span.clone();
        let mut table = self.table;
        let mut show_value = false;
        for part in key.split('.') {
            let found =
                table.and_then(|t| t.iter().find(|(name, _)| name.get_ref().as_ref() == part));
            let Some((_, value)) = found else {
                show_value = false;
                break;
            };
            span = Some(value.span());
            table = value.get_ref().as_table();
            show_value = table.is_none();
        }
        self.document
            .complain(span, self.key(key), problem, cure, show_value);
    }

    fn wrong_type(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) {
        self.document.complain(
            Some(value.span()),
            self.key(key),
            Problem::Other(format!("is a {}", type_word(value.get_ref()))),
            format!("write {wanted}"),
            true,
        );
    }

    /// Complains that a key is not there.
    pub fn missing(&self, key: &str, cure: &str) {
        let span = self.span.clone();
        self.document
            .complain(span, self.key(key), Problem::Missing, cure, false);
    }

    /// Complains when a key is not there; its row says what to give.
    fn is_given(&self, key: &str) -> bool {
        let is_given = !self.is_absent(key);
        if !is_given {
            let row = self.row(key);
            self.missing(key, &format!("give {}: {}", row.allowed, row.cure()));
        }
        is_given
    }

    /// A table below; absent is an empty one.
    pub fn section(&self, key: &str) -> Section<'d> {
        let value = self.value(key);
        let table = value.and_then(|v| {
            let table = v.get_ref().as_table();
            if table.is_none() {
                self.wrong_type(key, v, &format!("a section [{}]", self.key(key)));
            }
            table
        });
        Section {
            document: self.document,
            table,
            span: value.map(Spanned::span).or_else(|| self.span.clone()),
            path: self.key(key),
            table_path: joined(&self.table_path, key),
            known: RefCell::default(),
        }
    }

    /// A table below that must be there; `None` after a complaint.
    pub fn needed_section(&self, key: &str, cure: &str) -> Option<Section<'d>> {
        if self.is_absent(key) {
            self.missing(key, cure);
        }
        Some(self.section(key)).filter(Section::is_present)
    }

    /// An array of tables.
    pub fn sections(&self, key: &str) -> Vec<Section<'d>> {
        let Some(value) = self.value(key) else {
            return Vec::new();
        };
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_type(key, value, &format!("sections [[{}]]", self.key(key)));
            return Vec::new();
        };
        let mut sections = Vec::new();
        for (index, item) in items.iter().enumerate() {
            match item.get_ref().as_table() {
                Some(table) => sections.push(Section {
                    document: self.document,
                    table: Some(table),
                    span: Some(item.span()),
                    path: self.key(&format!("{key}.{}", index + 1)),
                    table_path: joined(&self.table_path, key),
                    known: RefCell::default(),
                }),
                None => self.wrong_type(key, item, &format!("a section [[{}]]", self.key(key))),
            }
        }
        sections
    }

    /// A number of any size.
    pub fn any_number(&self, key: &str) -> Option<f64> {
        let value = self.value(key)?;
        let number = number(value.get_ref());
        if number.is_none() {
            self.wrong_type(
                key,
                value,
                "a number without quotes; its unit is in the key",
            );
        }
        number
    }

    /// A number within the range of its key.
    pub fn number(&self, key: &str) -> Option<f64> {
        let number = self.any_number(key)?;
        let is_allowed = self.row(key).allowed.holds(number);
        if !is_allowed {
            self.refuse(key);
        }
        is_allowed.then_some(number)
    }

    /// A number that must be there.
    pub fn needed_number(&self, key: &str) -> Option<f64> {
        self.is_given(key).then(|| self.number(key))?
    }

    /// A whole number of any size.
    pub fn any_whole(&self, key: &str) -> Option<u64> {
        let value = self.value(key)?;
        let whole = value
            .get_ref()
            .as_integer()
            .and_then(|i| u64::from_str_radix(i.as_str(), i.radix()).ok());
        if whole.is_none() {
            self.wrong_type(key, value, "a whole number, 0 or more");
        }
        whole
    }

    /// A whole number within the range of its key.
    pub fn whole(&self, key: &str) -> Option<u64> {
        let whole = self.any_whole(key)?;
        let is_allowed = self.row(key).allowed.holds(whole as f64);
        if !is_allowed {
            self.refuse(key);
        }
        is_allowed.then_some(whole)
    }

    /// A text.
    pub fn text(&self, key: &str) -> Option<&'d str> {
        let value = self.value(key)?;
        let text = value.get_ref().as_str();
        if text.is_none() {
            self.wrong_type(key, value, "a text in quotes");
        }
        text
    }

    /// A text that its key allows, as far as the table can say it.
    pub fn form(&self, key: &str) -> Option<&'d str> {
        let text = self.text(key)?;
        let is_allowed = self.row(key).allowed.holds_text(text);
        if !is_allowed {
            self.refuse(key);
        }
        is_allowed.then_some(text)
    }

    /// A text that its key allows and that must be there.
    pub fn needed_form(&self, key: &str) -> Option<&'d str> {
        self.is_given(key).then(|| self.form(key))?
    }

    /// A text of any kind that must be there.
    pub fn needed_text(&self, key: &str) -> Option<&'d str> {
        self.is_given(key).then(|| self.text(key))?
    }

    /// Yes or no.
    pub fn flag(&self, key: &str) -> Option<bool> {
        let value = self.value(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            self.wrong_type(key, value, "true or false");
        }
        flag
    }

    /// The meaning of one of the words of its key.
    pub fn choice<T: Copy>(&self, key: &str, meanings: &[(&str, T)]) -> Option<T> {
        self.choice_like(key, key, meanings)
    }

    /// The meaning of one of the words of another key.
    pub fn choice_like<T: Copy>(
        &self,
        key: &str,
        other: &str,
        meanings: &[(&str, T)],
    ) -> Option<T> {
        let text = self.text(key)?;
        let chosen = meanings.iter().find(|(word, _)| *word == text);
        if chosen.is_none() {
            self.refuse_like(key, other);
        }
        chosen.map(|(_, meaning)| *meaning)
    }

    /// The meaning of a word that must be there.
    pub fn needed_choice<T: Copy>(&self, key: &str, meanings: &[(&str, T)]) -> Option<T> {
        self.is_given(key).then(|| self.choice(key, meanings))?
    }

    /// Texts read by `read`, whose error says what is allowed.
    pub fn parsed_list<T>(
        &self,
        key: &str,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Option<Vec<T>> {
        let value = self.value(key)?;
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_type(key, value, "a list of texts, [\"...\", \"...\"]");
            return None;
        };
        let mut list = Vec::new();
        for item in items {
            let Some(text) = item.get_ref().as_str() else {
                self.wrong_type(key, item, "a text in quotes");
                continue;
            };
            match read(text) {
                Ok(value) => list.push(value),
                Err(why) => self.document.complain(
                    Some(item.span()),
                    self.key(key),
                    Problem::Other("cannot be read".to_owned()),
                    why,
                    true,
                ),
            }
        }
        Some(list)
    }

    /// A text read by `read`, of the form that its key allows.
    pub fn parsed<T>(&self, key: &str, read: impl FnOnce(&str) -> Option<T>) -> Option<T> {
        let text = self.text(key)?;
        let value = read(text);
        if value.is_none() {
            self.refuse(key);
        }
        value
    }

    /// A text read by `read` that must be there.
    pub fn needed_parsed<T>(&self, key: &str, read: impl FnOnce(&str) -> Option<T>) -> Option<T> {
        self.is_given(key).then(|| self.parsed(key, read))?
    }

    /// Whether a key is not in the file.
    pub fn is_absent(&self, key: &str) -> bool {
        self.value(key).is_none()
    }

    /// Whether the value of a key is a text (and not a table).
    pub fn holds_text(&self, key: &str) -> bool {
        self.value(key)
            .is_some_and(|value| value.get_ref().is_str())
    }

    /// Complains about every key that nobody asked for.
    pub fn finish(self) {
        let Some(table) = self.table else { return };
        let known = self.known.borrow();
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        for (name, value) in table {
            let name_text = name.get_ref().as_ref();
            if known.contains(&name_text) {
                continue;
            }
            let (problem, cure) = self.unknown(name_text, value.get_ref(), &known);
            let key = self.key(name_text);
            self.document
                .complain(Some(name.span()), key, problem, cure, false);
        }
    }

    /// What is said of a key that does not exist.
    fn unknown(&self, name: &str, value: &DeValue<'_>, known: &[&str]) -> (Problem, String) {
        if let Some(new) = renamed(&joined(&self.table_path, name)) {
            let problem = Problem::Other(format!("is called {new} now"));
            let (section, short) = new.rsplit_once('.').unwrap_or(("", new));
            let moved = if section == self.table_path {
                String::new()
            } else {
                format!(" in [{section}]")
            };
            return (problem, format!("write {short}{moved} in place of {name}"));
        }
        let cure = match suggest(name, number(value), known) {
            Some(found) => {
                self.document.explain_missing(&self.key(found.key));
                match found.value {
                    Some(converted) => format!(
                        "write {} = {} (the unit is part of the key)",
                        found.key,
                        round(converted)
                    ),
                    None => format!("did you mean {}?", found.key),
                }
            }
            None => format!("allowed here: {}", known.join(", ")),
        };
        (Problem::Other("no such key".to_owned()), cure)
    }
}

fn joined(path: &str, key: &str) -> String {
    match (path, key) {
        ("", key) => key.to_owned(),
        (path, "") => path.to_owned(),
        (path, key) => format!("{path}.{key}"),
    }
}

fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix())
            .ok()
            .map(|whole| whole as f64),
        DeValue::Float(f) => f.as_str().parse().ok(),
        _ => None,
    }
}

/// Six significant digits.
fn round(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

fn type_word(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "whole number",
        DeValue::Float(_) => "number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "date",
        DeValue::Array(_) => "list",
        DeValue::Table(_) => "section",
    }
}
