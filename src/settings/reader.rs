//! Reads sections of a TOML document key by key and gathers every complaint.
//!
//! Only what a section asks for is known; whatever is left over at its end is an unknown key.

use std::cell::RefCell;
use std::ops::{Range, RangeInclusive};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::error::Complaint;
use super::suggest::suggest;

/// The document and all that is wrong with it so far.
pub(super) struct Document<'d> {
    pub file: &'d str,
    pub text: &'d str,
    found: RefCell<Vec<Found>>,
}

struct Found {
    complaint: Complaint,
    /// A key that is missing, so that a misspelt one can explain it.
    is_missing: bool,
}

impl<'d> Document<'d> {
    pub fn new(file: &'d str, text: &'d str) -> Self {
        Self {
            file,
            text,
            found: RefCell::default(),
        }
    }

    /// Line of a place in the text, from 1.
    pub fn line(&self, span: &Range<usize>) -> Option<usize> {
        let before = self.text.get(..span.start)?;
        Some(before.matches('\n').count() + 1)
    }

    pub fn complain(
        &self,
        span: Option<Range<usize>>,
        key: String,
        problem: String,
        cure: impl Into<String>,
        show_value: bool,
    ) {
        let value = span
            .as_ref()
            .filter(|_| show_value)
            .and_then(|s| self.text.get(s.clone()))
            .map(shorten);
        self.add(
            Complaint {
                file: self.file.to_owned(),
                line: span.and_then(|s| self.line(&s)),
                key,
                value,
                problem,
                cure: cure.into(),
            },
            false,
        );
    }

    fn add(&self, complaint: Complaint, is_missing: bool) {
        self.found.borrow_mut().push(Found {
            complaint,
            is_missing,
        });
    }

    /// Takes back the complaint that a key is missing: a misspelt one was found.
    fn explain_missing(&self, key: &str) {
        self.found
            .borrow_mut()
            .retain(|f| !(f.is_missing && f.complaint.key == key));
    }

    /// All complaints, by line.
    pub fn complaints(self) -> Vec<Complaint> {
        let mut complaints: Vec<_> = self
            .found
            .into_inner()
            .into_iter()
            .map(|f| f.complaint)
            .collect();
        complaints.sort_by_key(|c| c.line.unwrap_or(usize::MAX));
        complaints
    }
}

/// Values of a message stay on one line and short.
fn shorten(text: &str) -> String {
    let line = text.lines().next().unwrap_or_default();
    match line.char_indices().nth(60) {
        Some((end, _)) => format!("{}...", &line[..end]),
        None => line.to_owned(),
    }
}

/// One table of the document.
pub(super) struct Section<'d> {
    document: &'d Document<'d>,
    table: Option<&'d DeTable<'d>>,
    span: Option<Range<usize>>,
    path: String,
    known: RefCell<Vec<String>>,
}

impl<'d> Section<'d> {
    pub fn root(document: &'d Document<'d>, table: &'d DeTable<'d>) -> Self {
        Self {
            document,
            table: Some(table),
            span: None,
            path: String::new(),
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

    pub fn key(&self, key: &str) -> String {
        match (self.path.as_str(), key) {
            ("", key) => key.to_owned(),
            (path, "") => path.to_owned(),
            (path, key) => format!("{path}.{key}"),
        }
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
            .complain(span, self.key(key), problem.into(), cure, show_value);
    }

    fn wrong_type(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) {
        self.document.complain(
            Some(value.span()),
            self.key(key),
            format!("is a {}", type_word(value.get_ref())),
            format!("write {wanted}"),
            true,
        );
    }

    /// Complains that a key is not there.
    pub fn missing(&self, key: &str, cure: &str) {
        self.document.add(
            Complaint {
                file: self.document.file.to_owned(),
                line: self.span.as_ref().and_then(|s| self.document.line(s)),
                key: self.key(key),
                value: None,
                problem: "is missing".to_owned(),
                cure: cure.to_owned(),
            },
            true,
        );
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

    /// A number within a range; `what` says where to find it.
    pub fn number(&self, key: &str, range: RangeInclusive<f64>, what: &str) -> Option<f64> {
        let number = self.any_number(key)?;
        if range.contains(&number) {
            return Some(number);
        }
        self.complain(
            key,
            format!("must be {} to {}", range.start(), range.end()),
            what,
        );
        None
    }

    /// A number that must be there.
    pub fn needed_number(&self, key: &str, range: RangeInclusive<f64>, what: &str) -> Option<f64> {
        if self.value(key).is_none() {
            self.missing(
                key,
                &format!("give {} to {}: {what}", range.start(), range.end()),
            );
            return None;
        }
        self.number(key, range, what)
    }

    /// A whole number of any size.
    pub fn whole(&self, key: &str) -> Option<u64> {
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

    /// A text.
    pub fn text(&self, key: &str) -> Option<&'d str> {
        let value = self.value(key)?;
        let text = value.get_ref().as_str();
        if text.is_none() {
            self.wrong_type(key, value, "a text in quotes");
        }
        text
    }

    /// A text that must be there.
    pub fn needed_text(&self, key: &str, what: &str) -> Option<&'d str> {
        if self.value(key).is_none() {
            self.missing(key, &format!("give {what}"));
            return None;
        }
        self.text(key)
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

    /// One of some words.
    pub fn choice<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Option<T> {
        let text = self.text(key)?;
        let chosen = words
            .iter()
            .find(|(word, _)| *word == text)
            .map(|(_, v)| *v);
        if chosen.is_none() {
            let list: Vec<_> = words
                .iter()
                .map(|(word, _)| format!("\"{word}\""))
                .collect();
            self.complain(
                key,
                "is none of the words allowed",
                format!("write {}", list.join(" or ")),
            );
        }
        chosen
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
                    "cannot be read".to_owned(),
                    why,
                    true,
                ),
            }
        }
        Some(list)
    }

    /// A text read by `read`.
    pub fn parsed<T>(
        &self,
        key: &str,
        read: impl FnOnce(&str) -> Option<T>,
        wanted: &str,
    ) -> Option<T> {
        let text = self.text(key)?;
        let value = read(text);
        if value.is_none() {
            self.complain(key, "cannot be read", format!("write {wanted}"));
        }
        value
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
        let known = self.known.into_inner();
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        for (name, value) in table {
            let name_text = name.get_ref().as_ref();
            if known.contains(&name_text) {
                continue;
            }
            let key = match self.path.as_str() {
                "" => name_text.to_owned(),
                path => format!("{path}.{name_text}"),
            };
            let cure = match suggest(name_text, number(value.get_ref()), &known) {
                Some(found) => {
                    self.document.explain_missing(&match self.path.as_str() {
                        "" => found.key.to_owned(),
                        path => format!("{path}.{}", found.key),
                    });
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
            self.document.complain(
                Some(name.span()),
                key,
                "no such key".to_owned(),
                cure,
                false,
            );
        }
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
