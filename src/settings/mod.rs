//! Settings: one TOML file in, checked settings for every room out.
//!
//! The file is read key by key; keys carry their units. Every complaint is gathered, and each
//! names file, line, key, value, what is allowed and the cure. This room must not know what the
//! settings do. The text itself can be changed key by key (`edit`), with its comments kept.
//!
//! # Decisions
//!
//! - **The key table** (`keys`) says everything about a key once: what it may be, its unit, its
//!   default, what it is, where a crew measures it, whether a page may change it. A room that has
//!   settings of its own lists its keys beside them; the others are listed beside their reader here.
//!   Reader, complaints, defaults, rig page and `config/skimwatch.toml` come from the table.
//! - **A change from a page** is checked against the whole file as it would be, saved (comments
//!   kept, the file before as `FILE.previous`), and only then posted as one crew sentence per key;
//!   those sentences change the engine (`drive/keeper.rs`). A key with its value must fit one
//!   sentence, else it is refused before it is saved.
//! - **Structures of the boat** go by number (`boat.structure.2.from.aft_m`). Setting the number
//!   after the last one adds a structure. `null` for `boat.structure.2` removes it (its lines
//!   become comments), and the later ones move up.
//! - **A key that was renamed** is refused with its new name, and stands in `RENAMED` of `keys.rs`.

mod aboard;
mod alerts;
mod boat;
mod boat_keys;
mod crew;
mod document;
mod edit;
mod error;
mod feeds;
mod keys;
mod learnt;
mod locker;
mod locker_keys;
mod outlets;
mod reader;
mod restart;
mod rig;
mod rig_keys;
mod room;
mod save;
mod sections;
mod serve;
mod set_up;
mod shown;
mod sources;
mod structures;
mod suggest;
mod template;
mod toml_text;
mod whole;

pub use aboard::{Aboard, NETWORKS_ABOARD, is_aboard};
pub use alerts::AlertSettings;
pub use boat::{BoatPoint, BoatSettings};
pub use crew::{CrewUnits, LengthUnit, SpeedUnit, WeightUnit};
pub use edit::setting_change;
pub use error::SettingsError;
pub use keys::{keys, sections};
pub use outlets::{MqttSettings, WebhookSettings};
pub use restart::RestartSettings;
pub use rig::RigSettings;
pub use save::{SaveError, clear_up_after_save, previous, save};
pub use serve::{ServeSettings, Tls, Touch};
pub use shown::{Kept, RigEntry, SetUp, SettingEntry, SettingGrade, SettingValue, StructureEntry};
pub use template::template;
pub use whole::{Settings, SettingsText, load, parse};
