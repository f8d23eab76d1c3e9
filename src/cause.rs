//! Why something that came in was not used: the one list of causes, from the framer to the pages.

use std::fmt;

use serde::{Serialize, Serializer};
use utoipa::ToSchema;

/// Why a line, sentence or crew input was refused or passed over. Each has its own counter.
///
/// Serialised as its [`name`](Self::name).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, ToSchema)]
#[schema(rename_all = "kebab-case")]
pub enum Cause {
    /// The checksum is there and does not hold.
    BadChecksum,
    /// The checksum is missing and this input must have one.
    MissingChecksum,
    /// Not a sentence: noise, banner text, a cut line, control characters.
    Garbled,
    /// Longer than the input's limit.
    TooLong,
    /// A TAG block that is damaged or has no sentence behind it.
    BadTag,
    /// Encapsulated data such as AIS, which is not decoded.
    Encapsulated,
    /// Accepted, and lost because the daemon was busy.
    Dropped,
    /// A kind of sentence that is not decoded.
    Unsupported,
    /// A field whose text has the wrong form.
    Malformed,
    /// A number outside what its field may hold.
    OutOfRange,
    /// Fields that contradict each other.
    Inconsistent,
    /// A crew sentence on a feed that does not speak for the crew.
    NotCrew,
    /// An answer that was given already.
    Answered,
    /// A change of settings that does not fit the settings.
    Setting,
}

impl Cause {
    /// Every cause, in the order in which they are shown.
    pub const ALL: [Self; 14] = [
        Self::BadChecksum,
        Self::MissingChecksum,
        Self::Garbled,
        Self::TooLong,
        Self::BadTag,
        Self::Encapsulated,
        Self::Dropped,
        Self::Unsupported,
        Self::Malformed,
        Self::OutOfRange,
        Self::Inconsistent,
        Self::NotCrew,
        Self::Answered,
        Self::Setting,
    ];

    /// Name for programs: in the API, the metrics and the summary of a replay.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.texts().0
    }

    /// Text for people; the pages have the same.
    #[must_use]
    pub fn words(self) -> &'static str {
        self.texts().1
    }

    fn texts(self) -> (&'static str, &'static str) {
        match self {
            Self::BadChecksum => ("bad-checksum", "wrong checksum"),
            Self::MissingChecksum => ("missing-checksum", "no checksum"),
            Self::Garbled => ("garbled", "not a sentence"),
            Self::TooLong => ("too-long", "too long"),
            Self::BadTag => ("bad-tag", "damaged TAG block"),
            Self::Encapsulated => ("encapsulated", "AIS and the like, not read"),
            Self::Dropped => ("dropped", "lost, the computer was busy"),
            Self::Unsupported => ("unsupported", "kind not read"),
            Self::Malformed => ("malformed", "field of the wrong form"),
            Self::OutOfRange => ("out-of-range", "value out of range"),
            Self::Inconsistent => ("inconsistent", "fields contradict each other"),
            Self::NotCrew => ("not-crew", "this feed does not speak for the crew"),
            Self::Answered => ("answered", "answered already"),
            Self::Setting => ("setting", "change does not fit the settings"),
        }
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl Serialize for Cause {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use utoipa::PartialSchema;

    use super::*;

    /// The variant's own name in kebab case, derived here independently of the table.
    fn kebab(cause: Cause) -> String {
        let mut name = String::new();
        for c in format!("{cause:?}").chars() {
            if c.is_uppercase() && !name.is_empty() {
                name.push('-');
            }
            name.extend(c.to_lowercase());
        }
        name
    }

    #[test]
    fn names_are_the_variants_in_kebab_case_and_those_of_the_schema() {
        let names: Vec<_> = Cause::ALL.iter().map(|cause| cause.name()).collect();
        let own: Vec<_> = Cause::ALL.iter().map(|cause| kebab(*cause)).collect();
        assert_eq!(names, own);
        let schema = serde_json::to_value(Cause::schema()).unwrap();
        assert_eq!(schema["enum"], serde_json::to_value(Cause::ALL).unwrap());
    }

    #[test]
    fn the_page_has_the_words_of_every_cause() {
        let script = include_str!("serve/assets/words.js");
        let (_, list) = script.split_once("\n  cause: {\n").unwrap();
        let (list, _) = list.split_once("\n  },\n").unwrap();
        let said: BTreeSet<_> = list.lines().map(|line| line.trim().to_owned()).collect();
        let wanted: BTreeSet<_> = Cause::ALL
            .iter()
            .map(|cause| format!("\"{}\": \"{}\",", cause.name(), cause.words()))
            .collect();
        assert_eq!(said, wanted);
    }
}
