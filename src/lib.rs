//! skimwatch: reads the boat's NMEA 0183 network, models the kite rig, forecasts what the coming
//! turn does to the bait, and advises which line to move, how far and when.
//!
//! # Rooms
//!
//! Data flows one way, one folder per room:
//! feed -> decode -> vessel -> turn -> forecast -> advice -> serve.
//! `engine` is the chain from decode to advice; `drive` runs it on a clock, or on the times of a
//! log, and hands what arrives to `record` and what comes of it to `serve`. The pure rooms, from
//! decode to advice and `engine`, know no clock, socket, thread or disk: time is an argument.
//!
//! A room may import the rooms in its row, all of which stand above it; a test compares this table
//! with the source. A row gets another name only when data has to flow that way.
//!
//! | room | what it is | imports |
//! |---|---|---|
//! | `units` | quantities with units | |
//! | `time` | moments | |
//! | `angles` | angles wrapped | |
//! | `geodesy` | distances and bearings on the earth | angles |
//! | `key` | one row of the settings table, and complaints | |
//! | `cause` | why something was not used | |
//! | `files` | files replaced whole | |
//! | `access` | whose phone may touch | files time |
//! | `rig` | the physical model | angles units |
//! | `locker` | which kite and tackle today | angles rig units |
//! | `launch` | from the kite in hand to a skipping bait | locker rig |
//! | `decode` | sentences to observations | cause geodesy units |
//! | `feed` | bytes to sentences | cause key time |
//! | `doubt` | instruments against each other | angles geodesy time units |
//! | `vessel` | one believed value each | angles decode doubt geodesy key time units |
//! | `calibrate` | errors of instruments from the turns | angles decode time vessel |
//! | `strike` | a fish on, and the kite home | angles rig time vessel |
//! | `turn` | the heading ahead | angles decode geodesy key time units vessel |
//! | `forecast` | many futures of the rig | angles decode key rig time turn units vessel |
//! | `track` | where the bait was and will pass | forecast geodesy time vessel |
//! | `pass` | the bait over a mark | angles decode forecast key rig time turn units vessel |
//! | `advice` | advisories and their life cycle | angles decode forecast key time turn units vessel |
//! | `alert` | alert sentences for displays | advice decode time |
//! | `engine` | decode to advice as one machine | advice calibrate cause decode feed forecast pass strike time track turn vessel |
//! | `scene` | invented input | angles decode rig time units |
//! | `score` | judges replays | advice decode forecast rig time units |
//! | `record` | the raw stream to files and back | feed files key time |
//! | `logbook` | the day in a file, and its figures | advice angles decode engine feed files forecast geodesy key pass score time units vessel |
//! | `settings` | TOML to checked settings | access advice decode feed files forecast key locker logbook pass record rig turn units vessel |
//! | `tls` | certificates of the pages | files settings time |
//! | `serve` | pages and API | access advice angles calibrate decode engine forecast geodesy key launch locker logbook pass record settings strike time tls track units vessel |
//! | `push` | other devices are told | engine feed serve settings |
//! | `drive` | the only clock | advice alert cause decode engine feed files forecast logbook record rig serve settings strike time units vessel |
//! | `command` | the command line | access advice angles cause decode drive engine feed forecast geodesy launch locker logbook pass push record rig scene score serve settings time tls units |
#![cfg_attr(
    test,
    allow(clippy::unwrap_used, reason = "a failing unwrap is a failing test")
)]

pub mod access;
pub mod advice;
pub mod alert;
pub mod angles;
pub mod calibrate;
pub mod cause;
pub mod command;
pub mod decode;
pub mod doubt;
pub mod drive;
pub mod engine;
pub mod feed;
mod files;
pub mod forecast;
pub mod geodesy;
pub mod key;
pub mod launch;
pub mod locker;
pub mod logbook;
pub mod pass;
pub mod push;
pub mod record;
pub mod rig;
pub mod scene;
pub mod score;
pub mod serve;
pub mod settings;
pub mod strike;
pub mod time;
pub mod tls;
pub mod track;
pub mod turn;
pub mod units;
pub mod vessel;
