//! `[restart]`: what comes back after a restart of the program, and from where.

use std::path::PathBuf;

use crate::key::{self, Fallback, Key, default_of};

pub(super) const RESTART: key::Section = key::Section::new(
    "restart",
    "After a restart or a crash",
    "What the crew has told comes back when the program starts anew: lines out, marker, bite, \
     announced turn, marks, silence, what was acknowledged.",
    KEYS,
);

const KEYS: &[Key] = &[
    Key::form("file", "a file that the daemon may write")
        .or(Fallback::Nothing)
        .about(
            "file in which that is kept. Without this key it is deck.journal in the directory of \
             [record], and without that section a file beside this one, with \".deck\" after its \
             name",
            "the daemon must be allowed to write the file and its directory",
        )
        .example("\"/var/lib/skimwatch/deck.journal\""),
    Key::number("use_within_min", "min", 0.0, 720.0)
        .default(30.0)
        .about(
            "how long nothing may have run. Within it lines are used as they were, until somebody \
             checks them; after it they are only shown, and nothing is foretold until they are \
             told anew. 0 asks after every restart. Marks always come back",
            "how long the lines stay as they were while nobody looks",
        ),
];

/// What comes back after a restart of the program, and from where.
#[derive(Debug, Clone, PartialEq)]
pub struct RestartSettings {
    /// The journal; `None` for a place that depends on the other settings.
    pub file: Option<PathBuf>,
    /// For how many minutes nothing may have run for the lines to be used as they were.
    pub use_within_min: f64,
}

impl Default for RestartSettings {
    fn default() -> Self {
        Self {
            file: None,
            use_within_min: const { default_of(KEYS, "use_within_min") },
        }
    }
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
