//! The settings that an engine works with, for the logbook.

use std::any::Any;
use std::sync::Arc;

use crate::engine::{EngineSettings, Revise};
use crate::logbook::LoggedSettings;
use crate::settings::Settings;

/// The settings that an engine works with, as they are written.
pub(super) fn in_force(settings: &EngineSettings) -> Option<Arc<LoggedSettings>> {
    settings.source.as_ref().and_then(in_force_of)
}

/// The same of settings that were just changed.
pub(super) fn in_force_of(source: &Arc<dyn Revise>) -> Option<Arc<LoggedSettings>> {
    let source: Arc<dyn Any + Send + Sync> = Arc::<dyn Revise>::clone(source);
    let settings = source.downcast::<Settings>().ok()?;
    Some(Arc::new(settings.in_force()))
}
