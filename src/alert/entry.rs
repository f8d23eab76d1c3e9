//! An alert as displays know it.

use std::collections::BTreeMap;

use crate::advice::{AlertState, Priority};
use crate::time::Millis;

/// An alert, as displays know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Key {
    /// Number of its kind.
    pub number: u32,
    /// Which of that kind.
    pub instance: u32,
}

/// How an alert stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Id of the advisory.
    pub advisory: String,
    /// How pressing.
    pub priority: Priority,
    /// Where in its life.
    pub state: AlertState,
    /// What it is.
    pub title: &'static str,
    /// What to do first; empty for nothing.
    pub order: String,
    /// Counts its changes, 1 to 99 and again.
    pub revision: u8,
    /// Counts how often it was asked for.
    pub asked: u32,
    /// When it changed last.
    pub changed_at: Millis,
}

/// All alerts, those lately over too.
pub type Shown = BTreeMap<Key, Entry>;
