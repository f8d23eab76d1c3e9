//! The settings in force, as far as the logbook tells them apart.

use std::sync::Arc;

use serde::Serialize;
use utoipa::ToSchema;

/// Settings from a moment on.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggedSettings {
    /// All of them.
    pub toml: Arc<str>,
    /// The kite that flies by them.
    pub kite: Kite,
}

/// A kite. Two are the same when they have the same name, or none and the same area.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = LoggedKite)]
pub struct Kite {
    /// Its name in the locker; `null` where none of those there has its numbers.
    pub name: Option<String>,
    /// Its area.
    pub area_m2: f64,
}

impl Kite {
    /// What tells kites apart, in the order in which they are listed.
    #[must_use]
    pub fn key(&self) -> (Option<&str>, i64) {
        match &self.name {
            Some(name) => (Some(name), 0),
            // To the square centimetre.
            None => (None, (self.area_m2 * 1e4).round() as i64),
        }
    }
}
