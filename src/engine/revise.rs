//! Changing settings while the engine runs.

use std::fmt;
use std::sync::Arc;

use super::chain::EngineSettings;
use crate::decode::SettingChange;

/// Settings as they were written, which can be changed key by key. The engine does not know what
/// the keys mean; whoever made its settings does. The answer must depend on nothing but text and
/// changes, so that a recording that holds the changes replays to the same bytes.
pub trait Revise: fmt::Debug + Send + Sync {
    /// The text with these changes, all at once, and what it means for the engine; `None` when
    /// they do not fit the text.
    fn revise(&self, changes: &[SettingChange]) -> Option<EngineSettings>;

    /// The text.
    fn text(&self) -> Arc<str>;
}
