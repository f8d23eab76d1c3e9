//! Changing settings while the engine runs.

use std::any::Any;
use std::fmt;

use super::chain::EngineSettings;
use crate::decode::SettingChange;

/// The settings that the engine's own were made of, which can be changed key by key. The engine
/// does not know what the keys mean. The result must depend on nothing but these settings and the
/// changes, so that a recording with the changes replays to the same bytes. Whoever reads the
/// pictures may know the type behind it.
pub trait Revise: Any + fmt::Debug + Send + Sync {
    /// Engine settings with all these changes applied; `None` when they do not fit.
    fn revise(&self, changes: &[SettingChange]) -> Option<EngineSettings>;
}
