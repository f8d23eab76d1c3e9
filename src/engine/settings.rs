//! Settings of the chain, and how they change while it runs.

use std::any::Any;
use std::fmt;
use std::sync::Arc;

use crate::advice::AdviceSettings;
use crate::decode::SettingChange;
use crate::feed::CREW_FEED;
use crate::forecast::Forecaster;
use crate::pass::PassSettings;
use crate::strike::StrikeSettings;
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
    /// Settings of the strike room.
    pub strike: Arc<StrikeSettings>,
    /// Settings of the advice room.
    pub advice: AdviceSettings,
    /// Settings of the pass room.
    pub pass: PassSettings,
    /// What these were made of, if they can be changed while the engine runs.
    pub source: Option<Arc<dyn Revise>>,
}

impl EngineSettings {
    /// Whether this feed may speak for the crew. Anybody on a network can send a crew sentence.
    #[must_use]
    pub fn is_crew(&self, feed: &str) -> bool {
        feed == CREW_FEED || self.crew_feeds.iter().any(|name| name == feed)
    }
}

/// The settings that the engine's own were made of, which can be changed key by key. The engine
/// does not know what the keys mean. The result must depend on nothing but these settings and the
/// changes, so that a recording with the changes replays to the same bytes. Whoever reads the
/// pictures may know the type behind it.
pub trait Revise: Any + fmt::Debug + Send + Sync {
    /// Engine settings with all these changes applied; `None` when they do not fit.
    fn revise(&self, changes: &[SettingChange]) -> Option<EngineSettings>;
}
