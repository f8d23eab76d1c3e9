//! The whole file: every section read, every complaint at once.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use toml::de::DeTable;

use super::alerts::AlertSettings;
use super::boat::{self, BoatSettings};
use super::crew::CrewUnits;
use super::document::Document;
use super::error::SettingsError;
use super::outlets::{MqttSettings, WebhookSettings};
use super::reader::Section;
use super::restart::RestartSettings;
use super::rig::{self, RigSettings};
use super::serve::{ServeSettings, Tls};
use super::{feeds, locker, room, sections, sources};
use crate::advice::AdviceSettings;
use crate::feed::Feed;
use crate::forecast::ForecastSettings;
use crate::key::{Complaint, Place, Problem};
use crate::locker::Locker;
use crate::logbook::{Kite, LogbookSettings, LoggedSettings};
use crate::pass::PassSettings;
use crate::record::RecordSettings;
use crate::turn::TurnSettings;
use crate::vessel::VesselSettings;

/// Settings as they were written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SettingsText {
    /// What stands for the file in complaints.
    pub name: String,
    /// All of it.
    pub text: Arc<str>,
}

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
    /// What else is aboard, for the check of today's rig.
    pub locker: Arc<Locker>,
    /// What is known of the boat's turning.
    pub turn: TurnSettings,
    /// How the futures are made.
    pub forecast: ForecastSettings,
    /// Where what is learnt is kept; `None` for nowhere.
    pub learnt_file: Option<PathBuf>,
    /// When to speak, when to be quiet.
    pub advice: AdviceSettings,
    /// What the captain closes to passes.
    pub pass: PassSettings,
    /// The pages and the API.
    pub serve: ServeSettings,
    /// Where alert sentences go; `None` for nowhere.
    pub alerts: Option<AlertSettings>,
    /// Where changes of the living advisories are posted; `None` for nowhere.
    pub webhook: Option<WebhookSettings>,
    /// The broker that is told what happens; `None` for none.
    pub mqtt: Option<MqttSettings>,
    /// Units that people read.
    pub units: CrewUnits,
    /// Where the raw stream is kept; `None` for nowhere.
    pub record: Option<RecordSettings>,
    /// What comes back after a restart.
    pub restart: RestartSettings,
    /// Where the logbook is.
    pub logbook: LogbookSettings,
    /// What they were read from.
    pub source: SettingsText,
}

/// Name of the crew's journal in the directory of the recordings. Not `.nmea`, so that nobody who
/// names all recordings of a directory replays it among them.
const JOURNAL: &str = "deck.journal";
/// Name of the logbook in the directory of the recordings.
const LOGBOOK: &str = "logbook.sqlite";
/// Name of the file of the phones that have joined, beside what was learnt.
const PHONES: &str = "phones.json";
/// Name of the file of the local authority, beside what was learnt.
const TLS: &str = "tls.json";

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

    /// Where the logbook is, by settings that were read from `path`.
    #[must_use]
    pub fn logbook_file(&self, path: &Path) -> PathBuf {
        match (&self.logbook.file, &self.record) {
            (Some(file), _) => file.clone(),
            (None, Some(record)) => record.dir().join(LOGBOOK),
            (None, None) => crate::files::beside(path, ".logbook"),
        }
    }

    /// As the logbook keeps them.
    #[must_use]
    pub fn in_force(&self) -> LoggedSettings {
        let flown = &self.rig.parameters.kite;
        let aboard = self.locker.kites.iter().find(|kite| kite.part == *flown);
        LoggedSettings {
            toml: Arc::clone(&self.source.text),
            kite: Kite {
                name: aboard.map(|kite| kite.name.clone()),
                area_m2: flown.area_m2,
            },
        }
    }

    /// Where the phones that have joined are kept, by settings that were read from `path`.
    #[must_use]
    pub fn phones_file(&self, path: &Path) -> PathBuf {
        match (&self.serve.phones_file, &self.learnt_file) {
            (Some(file), _) => file.clone(),
            (None, Some(learnt)) => learnt.with_file_name(PHONES),
            (None, None) => crate::files::beside(path, ".phones"),
        }
    }

    /// Where the local authority of the pages' certificate is kept, by settings that were read from
    /// `path`.
    #[must_use]
    pub fn tls_file(&self, path: &Path) -> PathBuf {
        match &self.learnt_file {
            Some(learnt) => learnt.with_file_name(TLS),
            None => crate::files::beside(path, ".tls"),
        }
    }

    /// What somebody should know although nothing is wrong.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if !self.rig.assumed.is_empty() {
            notes.push(format!(
                "typical values stand in for this boat's own in [rig]: {}",
                self.rig.assumed.join(", ")
            ));
        }
        let rig = &self.rig.parameters;
        let unknown: Vec<&str> = [
            ("kite_line.strength_n", rig.kite_line.strength_n),
            ("main_line.strength_n", rig.main_line.strength_n),
            ("rod_holder_strength_n", rig.rod_holder_strength_n),
            ("band_strength_n", rig.band_strength_n),
        ]
        .into_iter()
        .filter(|(_, strength)| strength.is_none())
        .map(|(key, _)| key)
        .collect();
        if !unknown.is_empty() {
            notes.push(format!(
                "no warning of their overload while these are not in [rig]: {}",
                unknown.join(", ")
            ));
        }
        if self.boat.structures.is_empty() {
            notes.push(
                "no [[boat.structure]]: no warning when a line comes near the boat".to_owned(),
            );
        }
        if self.learnt_file.is_none() {
            notes.push(
                "no learnt_file in [forecast]: what the crew's reports teach of the kite lasts \
                 until the daemon ends"
                    .to_owned(),
            );
        }
        if self.serve.tls == Tls::Off && !self.serve.bind.ip().is_loopback() {
            notes.push(
                "tls = \"off\" in [serve]: whoever is on the Wi-Fi can read a crew phone's pass, and use it"
                    .to_owned(),
            );
        }
        if self.feeds.is_empty() {
            notes.push("no [[feed]]: enough for a replay, not for `run`".to_owned());
        }
        notes
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
                    place: Some(Place {
                        file: name.to_owned(),
                        line: None,
                    }),
                    key: "feed".to_owned(),
                    value: None,
                    problem: Problem::Missing,
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
                Problem::Other(format!("not TOML: {}", error.message())),
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
    let learnt_file = sections::learnt_file(&forecast);
    let forecast = room::read(forecast, ForecastSettings::check);
    let advice = room::read(root.section("advice"), AdviceSettings::check);
    let pass = room::read(root.section("pass"), PassSettings::check);
    let locker = locker::read(
        root.section("locker"),
        rig.as_ref(),
        boat.as_ref(),
        &forecast,
    );
    let serve = sections::serve(root.section("serve"), &feeds);
    let alerts = sections::alerts(root.section("alerts"), &feeds);
    let webhook = sections::webhook(root.section("webhook"));
    let mqtt = sections::mqtt(root.section("mqtt"));
    let units = sections::units(root.section("crew"));
    let record = sections::record(root.section("record"));
    let restart = sections::restart(root.section("restart"));
    let logbook = sections::logbook(root.section("logbook"));
    root.finish();
    Some(Settings {
        boat: boat?,
        feeds,
        vessel,
        rig: rig?,
        locker: Arc::new(locker?),
        turn,
        forecast,
        learnt_file,
        advice,
        pass,
        serve,
        alerts,
        webhook,
        mqtt,
        units,
        record,
        restart,
        logbook,
        source,
    })
}
