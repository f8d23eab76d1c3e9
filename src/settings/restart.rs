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

#[cfg(test)]
mod tests {
    use std::path::Path;

    use crate::settings::parse;

    fn with(more: &str) -> String {
        format!("{}\n{more}", include_str!("../../config/demo.toml"))
    }

    #[test]
    fn the_file_is_with_the_recordings_else_beside_the_settings() {
        let file = |more: &str| {
            let settings = parse(&with(more), "boat.toml").unwrap();
            settings.journal_file(Path::new("/boat/boat.toml"))
        };
        assert_eq!(file(""), Path::new("/boat/boat.toml.deck"));
        assert_eq!(
            file("[record]\ndir = \"rec\""),
            Path::new("rec/deck.journal")
        );
        let own = "[record]\ndir = \"rec\"\n[restart]\nfile = \"/var/told\"";
        assert_eq!(file(own), Path::new("/var/told"));
    }

    #[test]
    fn wrong_values_are_named() {
        assert!(parse(&with("[restart]\nuse_within_min = 720"), "boat.toml").is_ok());
        for (more, key) in [
            ("use_within_min = 720.1", "restart.use_within_min"),
            ("use_within_min = -1", "restart.use_within_min"),
            ("file = \" \"", "restart.file"),
            ("fle = \"told\"", "restart.fle"),
        ] {
            let error = parse(&with(&format!("[restart]\n{more}")), "boat.toml").unwrap_err();
            assert!(error.to_string().contains(key), "{more}: {error}");
        }
    }
}
