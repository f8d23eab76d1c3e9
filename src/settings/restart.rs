//! `[restart]`: what comes back after a restart of the program, and from where.

use std::path::PathBuf;

use super::reader::Section;
use crate::drive::RestartSettings;

pub(super) fn read(section: Section<'_>) -> RestartSettings {
    let mut settings = RestartSettings::default();
    if let Some(path) = section.text("file") {
        if path.trim().is_empty() {
            section.complain(
                "file",
                "is empty",
                "give a file that the daemon may write, or leave the key away",
            );
        } else {
            settings.file = Some(PathBuf::from(path));
        }
    }
    let minutes = section.number(
        "use_within_min",
        RestartSettings::USE_WITHIN_MIN,
        "minutes; 0 to be asked for the lines after every restart",
    );
    if let Some(minutes) = minutes {
        settings.use_within_min = minutes;
    }
    section.finish();
    settings
}
