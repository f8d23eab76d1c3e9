//! Names of phones: short, and of characters that any log, sentence and page can hold.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

/// Most characters of a name.
pub const NAME_MAX: usize = 24;

/// The name that a crew gives a phone: "mate's phone".
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct PhoneName(Arc<str>);

impl PhoneName {
    /// The text without blanks around it; `None` unless it is 1 to [`NAME_MAX`] ASCII letters,
    /// digits, blanks, hyphens and apostrophes.
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        let text = text.trim();
        let fits = (1..=NAME_MAX).contains(&text.len())
            && text
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || matches!(c, ' ' | '-' | '\''));
        fits.then(|| Self(text.into()))
    }

    /// As text that can be shared.
    #[must_use]
    pub fn shared(&self) -> Arc<str> {
        Arc::clone(&self.0)
    }

    /// Whether both are the same to a reader.
    #[must_use]
    pub fn is_like(&self, other: &Self) -> bool {
        self.0.eq_ignore_ascii_case(&other.0)
    }
}

impl TryFrom<String> for PhoneName {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        Self::new(&text).ok_or_else(|| format!("{text:?} is no name of a phone"))
    }
}

impl From<PhoneName> for String {
    fn from(name: PhoneName) -> Self {
        name.0.as_ref().to_owned()
    }
}

impl fmt::Display for PhoneName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_short_and_harmless() {
        assert_eq!(
            PhoneName::new("  mate's phone ").unwrap().to_string(),
            "mate's phone"
        );
        for wrong in [
            "",
            "   ",
            "a,b",
            "x*00",
            "line\nbreak",
            "<b>",
            "m\u{fc}tze",
            "1234567890123456789012345",
        ] {
            assert_eq!(PhoneName::new(wrong), None, "{wrong:?}");
        }
        let (one, other) = (PhoneName::new("Helm").unwrap(), PhoneName::new("helm"));
        assert!(one.is_like(&other.unwrap()));
    }
}
