//! Settings: one TOML file in, checked settings for every room out.
//!
//! The file is read key by key; keys carry their units. Every complaint is gathered, and each
//! names file, line, key, value, what is allowed and the cure. Ranges that a room knows better are
//! checked by that room's own settings type. This room must not know what the settings do.
//! The text itself can be changed key by key (`edit`), with its comments kept.
//!
//! # Decisions
//!
//! - **A change from a page** is checked against the whole file as it would be, saved (comments
//!   kept, the file before as `FILE.previous`), and only then posted as one crew sentence per key;
//!   those sentences change the engine. A key with its value must fit one sentence, else it is
//!   refused before it is saved.
//! - **What a page may change** is listed in `editable.rs`; a test holds its ranges to those of the
//!   reader.
//! - **Structures of the boat** go by number (`boat.structure.2.from.aft_m`). Setting the number
//!   after the last one adds a structure. `null` for `boat.structure.2` removes it (its lines
//!   become comments), and the later ones move up.

mod assemble;
mod boat;
mod edit;
mod editable;
mod error;
mod feeds;
mod reader;
mod record;
mod restart;
mod rig;
mod room;
mod save;
mod serve;
mod sources;
mod structures;
mod suggest;
mod toml_text;

use std::path::{Path, PathBuf};

use toml::de::DeTable;

pub use assemble::RigRefused;
pub use boat::{BoatPoint, BoatSettings};
pub use edit::{SettingsText, setting_change};
pub use error::{Complaint, SettingsError};
pub use rig::RigSettings;
pub use save::{SaveError, clear_up_after_save, previous, save};

use crate::advice::AdviceSettings;
use crate::drive::RestartSettings;
use crate::feed::Feed;
use crate::forecast::ForecastSettings;
use crate::record::RecordSettings;
use crate::serve::{CrewUnits, ServeSettings};
use crate::turn::TurnSettings;
use crate::vessel::VesselSettings;
use reader::{Document, Section};

/// Checked settings of everything.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// The boat.
    pub boat: BoatSettings,
    /// Where NMEA 0183 comes from. May be empty, which is enough for a replay; see
    /// [`Settings::needs_feeds`].
    pub feeds: Vec<Feed>,
    /// Which source to believe.
    pub vessel: VesselSettings,
    /// Kite, lines, marker, bait.
    pub rig: RigSettings,
    /// What is known of the boat's turning.
    pub turn: TurnSettings,
    /// How the futures are made.
    pub forecast: ForecastSettings,
    /// Where what is learnt is kept; `None` for nowhere.
    pub learnt_file: Option<PathBuf>,
    /// When to speak, when to be quiet.
    pub advice: AdviceSettings,
    /// The pages and the API.
    pub serve: ServeSettings,
    /// Units that people read.
    pub units: CrewUnits,
    /// Where the raw stream is kept; `None` for nowhere.
    pub record: Option<RecordSettings>,
    /// What comes back after a restart.
    pub restart: RestartSettings,
    /// What they were read from.
    pub source: SettingsText,
}

/// Name of the crew's journal in the directory of the recordings. Not `.nmea`, so that nobody who
/// names all recordings of a directory replays it among them.
const JOURNAL: &str = "deck.journal";

impl Settings {
    /// Where the crew's words are kept over a restart, by settings that were read from `path`.
    #[must_use]
    pub fn journal_file(&self, path: &Path) -> PathBuf {
        match (&self.restart.file, &self.record) {
            (Some(file), _) => file.clone(),
            (None, Some(record)) => record.dir().join(JOURNAL),
            (None, None) => crate::files::beside(path, ".deck"),
        }
    }

    /// Whether there is anything to listen to, which a running daemon needs; `name` stands for the
    /// file in the complaint.
    ///
    /// # Errors
    /// When there is no feed.
    pub fn needs_feeds(&self, name: &str) -> Result<(), SettingsError> {
        if self.feeds.is_empty() {
            return Err(SettingsError::Wrong {
                complaints: vec![Complaint {
                    file: name.to_owned(),
                    line: None,
                    key: "feed".to_owned(),
                    value: None,
                    problem: "is missing".to_owned(),
                    cure: "add at least one [[feed]] with name and kind, so that the boat's instruments are heard".to_owned(),
                }],
            });
        }
        Ok(())
    }
}

/// Reads a file.
///
/// # Errors
/// When the file cannot be read, or with every complaint about what it says.
pub fn load(path: &Path) -> Result<Settings, SettingsError> {
    let name = path.display().to_string();
    let text = std::fs::read_to_string(path).map_err(|why| SettingsError::Unreadable {
        file: name.clone(),
        why: why.to_string(),
    })?;
    parse(&text, &name)
}

/// Reads a text; `name` stands for the file in complaints.
///
/// # Errors
/// With every complaint about what it says.
pub fn parse(text: &str, name: &str) -> Result<Settings, SettingsError> {
    let document = Document::new(name, text);
    let (table, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        for error in errors {
            document.complain(
                error.span(),
                String::new(),
                format!("not TOML: {}", error.message()),
                "see the examples in config/",
                false,
            );
        }
        return Err(SettingsError::Wrong {
            complaints: document.complaints(),
        });
    }
    let source = SettingsText {
        name: name.to_owned(),
        text: text.into(),
    };
    let settings = read(Section::root(&document, table.get_ref()), source);
    let complaints = document.complaints();
    match settings {
        Some(settings) if complaints.is_empty() => Ok(settings),
        _ => Err(SettingsError::Wrong { complaints }),
    }
}

/// `None` only after a complaint.
fn read(root: Section<'_>, source: SettingsText) -> Option<Settings> {
    let boat = boat::read(root.section("boat"));
    let feed_sections = root.sections("feed");
    let (feeds, feed_names) = feeds::read(feed_sections);
    let vessel = sources::read(root.section("sources"), &feed_names, boat.as_ref());
    let rig = rig::read(root.section("rig"), boat.as_ref());
    let turn = room::read(root.section("turn"), TurnSettings::check);
    let forecast = root.section("forecast");
    let learnt_file = forecast.text("learnt_file").and_then(|path| {
        if path.trim().is_empty() {
            forecast.complain(
                "learnt_file",
                "is empty",
                "give a file that the daemon may write, or leave the key away",
            );
            return None;
        }
        Some(PathBuf::from(path))
    });
    let forecast = room::read(forecast, ForecastSettings::check);
    let advice = room::read(root.section("advice"), AdviceSettings::check);
    let serve = serve::read(root.section("serve"), &feeds);
    let units = serve::read_crew_units(root.section("crew"));
    let record = record::read(root.section("record"));
    let restart = restart::read(root.section("restart"));
    root.finish();
    Some(Settings {
        boat: boat?,
        feeds,
        vessel,
        rig: rig?,
        turn,
        forecast,
        learnt_file,
        advice,
        serve,
        units,
        record,
        restart,
        source,
    })
}
