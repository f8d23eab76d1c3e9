//! Settings of the chain, and how they change while it runs.

use std::fmt;
use std::sync::Arc;

use crate::advice::AdviceSettings;
use crate::decode::SettingChange;
use crate::feed::CREW_FEED;
use crate::forecast::Forecaster;
use crate::turn::TurnSettings;
use crate::vessel::{LinesOut, VesselSettings};

/// Configuration of the chain.
#[derive(Debug, Clone)]
pub struct EngineSettings {
    /// Names of the inputs, so that one that never sends is shown too.
    pub feeds: Vec<String>,
    /// Names of the inputs that may speak for the crew, besides [`CREW_FEED`].
    pub crew_feeds: Vec<String>,
    /// Which source to believe.
    pub vessel: VesselSettings,
    /// Settings of the turn room.
    pub turn: TurnSettings,
    /// Line out at the start, as the settings give it.
    pub lines_out: LinesOut,
    /// The forecaster with the rig, in its initial state.
    pub forecaster: Forecaster,
    /// Settings of the advice room.
    pub advice: AdviceSettings,
    /// The text of these settings, if they can be changed while the engine runs.
    pub source: Option<Arc<dyn Revise>>,
}

impl EngineSettings {
    /// Whether this feed may speak for the crew. Anybody on a network can send a crew sentence.
    #[must_use]
    pub fn is_crew(&self, feed: &str) -> bool {
        feed == CREW_FEED || self.crew_feeds.iter().any(|name| name == feed)
    }
}

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
