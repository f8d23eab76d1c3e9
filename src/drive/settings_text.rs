//! The text of the settings that an engine works with, for the logbook.

use std::any::Any;
use std::sync::Arc;

use crate::engine::{EngineSettings, Revise};
use crate::settings::Settings;

/// The settings that an engine works with, as they are written.
pub(super) fn settings_text(settings: &EngineSettings) -> Option<Arc<str>> {
    settings.source.as_ref().and_then(text_of)
}

/// The same of settings that were just changed.
pub(super) fn text_of(source: &Arc<dyn Revise>) -> Option<Arc<str>> {
    let source: Arc<dyn Any + Send + Sync> = Arc::<dyn Revise>::clone(source);
    let settings = source.downcast::<Settings>().ok()?;
    Some(Arc::clone(&settings.source.text))
}
