//! A table for formats that know rows and columns: its shape, and how a column is read off a row.

use serde::Serialize;
use serde_json::Value;

use crate::time::Millis;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A moment, UTC.
    Time,
    /// A number with a fraction.
    Real,
    /// A whole number.
    Whole,
    /// A text or word.
    Text,
}

impl Kind {
    /// Its name.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Real => "real",
            Self::Whole => "whole",
            Self::Text => "text",
        }
    }
}

/// A column of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name, with the unit.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// What it means.
    pub about: &'static str,
}

/// A value; `None` for what was not known.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// A moment.
    Time(Option<Millis>),
    /// A number.
    Real(Option<f64>),
    /// A whole number.
    Whole(Option<i64>),
    /// A text.
    Text(Option<String>),
}

/// One table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Its name, for that of the file: "bites".
    pub name: &'static str,
    /// What a row of it is.
    pub about: &'static str,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows, each with a cell for every column.
    pub rows: Vec<Vec<Cell>>,
}

/// How a column is read off a row.
pub(super) enum Get<T> {
    Time(fn(&T) -> Option<Millis>),
    Real(fn(&T) -> Option<f64>),
    Whole(fn(&T) -> Option<i64>),
    Text(fn(&T) -> Option<String>),
}

/// A column of rows of one type.
pub(super) struct Of<T>(pub &'static str, pub &'static str, pub Get<T>);

impl<T> Of<T> {
    fn column(&self) -> Column {
        Column {
            name: self.0,
            kind: match self.2 {
                Get::Time(_) => Kind::Time,
                Get::Real(_) => Kind::Real,
                Get::Whole(_) => Kind::Whole,
                Get::Text(_) => Kind::Text,
            },
            about: self.1,
        }
    }

    fn cell(&self, row: &T) -> Cell {
        match &self.2 {
            Get::Time(get) => Cell::Time(get(row)),
            Get::Real(get) => Cell::Real(get(row)),
            Get::Whole(get) => Cell::Whole(get(row)),
            Get::Text(get) => Cell::Text(get(row)),
        }
    }
}

/// A table of rows of one type.
pub(super) fn table<'a, T: 'a>(
    name: &'static str,
    about: &'static str,
    columns: &[Of<T>],
    rows: impl Iterator<Item = &'a T>,
) -> Table {
    Table {
        name,
        about,
        columns: columns.iter().map(Of::column).collect(),
        rows: rows
            .map(|row| columns.iter().map(|column| column.cell(row)).collect())
            .collect(),
    }
}

/// A value as the word that JSON has for it; `None` for none.
pub(super) fn word(value: &impl Serialize) -> Option<String> {
    match serde_json::to_value(value) {
        Ok(Value::String(text)) => Some(text),
        _ => None,
    }
}
