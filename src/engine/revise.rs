//! Changing settings while the engine runs.

use std::fmt;
use std::sync::Arc;

use super::chain::EngineSettings;
use crate::decode::SettingChange;

/// The text of the settings, which can be changed key by key. The engine does not know what the
/// keys mean. The result must depend on nothing but text and changes, so that a recording with the
/// changes replays to the same bytes.
pub trait Revise: fmt::Debug + Send + Sync {
    /// Engine settings from the text with all these changes applied; `None` when they do not fit
    /// the text.
    fn revise(&self, changes: &[SettingChange]) -> Option<EngineSettings>;

    /// The text.
    fn text(&self) -> Arc<str>;
}
