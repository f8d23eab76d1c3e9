//! Who sends a sentence, and the patterns by which the settings name senders.

use std::fmt;
use std::str::FromStr;

/// A pattern of the settings: `feed`, `feed:TALKER`, `feed:KIND`, `feed:TALKERKIND`, with `*` for
/// any feed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourcePattern {
    feed: Option<String>,
    talker: Option<String>,
    kind: Option<String>,
}

/// A pattern that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "a source is written FEED, FEED:TALKER, FEED:KIND or FEED:TALKERKIND with * for any feed, for example masthead:WIMWV, masthead:WI, *:MWV"
)]
pub struct PatternError;

impl SourcePattern {
    /// Name of the feed it asks for; `None` for any.
    #[must_use]
    pub fn feed(&self) -> Option<&str> {
        self.feed.as_deref()
    }

    /// Whether a sentence of this kind from this talker on this feed fits.
    #[must_use]
    pub fn fits(&self, feed: &str, talker: &str, kind: &str) -> bool {
        let part = |want: &Option<String>, have: &str| want.as_deref().is_none_or(|w| w == have);
        part(&self.feed, feed) && part(&self.talker, talker) && part(&self.kind, kind)
    }
}

impl FromStr for SourcePattern {
    type Err = PatternError;

    fn from_str(text: &str) -> Result<Self, PatternError> {
        let (feed, address) = match text.split_once(':') {
            Some((feed, address)) => (feed, Some(address)),
            None => (text, None),
        };
        if feed.is_empty() || (feed.contains('*') && feed != "*") {
            return Err(PatternError);
        }
        let (talker, kind) = match address {
            None => (None, None),
            Some(a)
                if !a
                    .bytes()
                    .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit()) =>
            {
                return Err(PatternError);
            }
            Some(a) => match a.len() {
                2 => (Some(a), None),
                3 => (None, Some(a)),
                5 => (Some(&a[..2]), Some(&a[2..])),
                _ => return Err(PatternError),
            },
        };
        Ok(Self {
            feed: (feed != "*").then(|| feed.to_owned()),
            talker: talker.map(str::to_owned),
            kind: kind.map(str::to_owned),
        })
    }
}

impl fmt::Display for SourcePattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.feed.as_deref().unwrap_or("*"))?;
        if self.talker.is_some() || self.kind.is_some() {
            f.write_str(":")?;
        }
        f.write_str(self.talker.as_deref().unwrap_or_default())?;
        f.write_str(self.kind.as_deref().unwrap_or_default())
    }
}

/// Who sent something.
#[derive(Debug, Clone, Copy)]
pub struct Sender<'a> {
    /// Name of the feed.
    pub feed: &'a str,
    /// Address from which it came on the feed, where the feed tells senders apart.
    pub origin: Option<&'a str>,
    /// Talker of the sentence.
    pub talker: &'a str,
    /// Its kind.
    pub kind: &'a str,
}

impl<'a> Sender<'a> {
    /// Who sends on a feed that is one line.
    #[must_use]
    pub fn on_line(feed: &'a str, talker: &'a str, kind: &'a str) -> Self {
        Self {
            feed,
            origin: None,
            talker,
            kind,
        }
    }

    /// In words: `masthead WIMWV`, or, with its address, `net@192.0.2.7 WIMWV`.
    pub(super) fn name(&self, with_origin: bool) -> String {
        let Self {
            feed, talker, kind, ..
        } = self;
        match self.origin.filter(|_| with_origin) {
            Some(origin) => format!("{feed}@{origin} {talker}{kind}"),
            None => format!("{feed} {talker}{kind}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_read_back_and_fit() {
        for text in ["masthead", "masthead:WI", "masthead:WIMWV", "*:MWV", "*"] {
            let pattern: SourcePattern = text.parse().unwrap();
            assert_eq!(pattern.to_string(), text);
        }
        for text in ["", ":WI", "a:W", "a:wi", "a:WIMW", "a:", "mast*", "a:é"] {
            assert_eq!(text.parse::<SourcePattern>(), Err(PatternError), "{text:?}");
        }
        let p: SourcePattern = "*:HEHDT".parse().unwrap();
        assert!(p.fits("any", "HE", "HDT"));
        assert!(!p.fits("any", "GP", "HDT"));
    }
}
