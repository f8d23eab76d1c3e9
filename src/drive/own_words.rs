//! What the live driver writes into a recording of its own knowledge: when it made a picture, and with
//! how many futures; and whose phone said what. How fast a computer was is not in what the instruments said, so without these
//! a replay could not make the same pictures.
//!
//! `$PSKWD,START*hh`: from here on every picture is told. `$PSKWD,PICTURE,<futures>*hh`: a picture
//! is made now, with no more than so many futures; 0 for one without a forecast because the
//! computer was too slow. `$PSKWD,BY,<sequence>,<name>*hh`: the crew sentence of that number, the
//! next, is said by the phone of that name; a replay does nothing with it. They stand under the feed name [`OWN_FEED`], which no feed can have;
//! under any other they mean nothing.

use std::sync::Arc;

use crate::engine::Means;
use crate::feed::OWN_FEED;
use crate::forecast::Effort;

const ADDRESS: &str = "$PSKWD";
const START: &str = "START";
const PICTURE: &str = "PICTURE";
const BY: &str = "BY";

/// One sentence of the driver.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum OwnWord {
    /// Every picture is told from here on.
    Start,
    /// A picture is made now.
    Picture(Means),
    /// Whose phone says the crew sentence of this number.
    By {
        /// Its number.
        sequence: u32,
        /// Name of the phone, of characters that a sentence can hold.
        name: Arc<str>,
    },
}

impl OwnWord {
    /// As it is recorded.
    pub fn encode(&self) -> String {
        let body = match self {
            Self::Start => format!("{ADDRESS},{START}"),
            Self::Picture(means) => {
                let futures = match means {
                    Means::TooSlow => 0,
                    Means::Forecast(effort) => effort.futures(usize::MAX),
                };
                format!("{ADDRESS},{PICTURE},{futures}")
            }
            Self::By { sequence, name } => format!("{ADDRESS},{BY},{sequence},{name}"),
        };
        let checksum = body.bytes().skip(1).fold(0, |sum, byte| sum ^ byte);
        format!("{body}*{checksum:02X}")
    }

    /// Reads one back; `None` for anything else.
    pub fn read(feed: &str, text: &str) -> Option<Self> {
        if feed != OWN_FEED {
            return None;
        }
        let (body, _) = text.split_once('*')?;
        let mut fields = body.strip_prefix(ADDRESS)?.strip_prefix(',')?.split(',');
        match (fields.next()?, fields.next(), fields.next()) {
            (BY, Some(sequence), Some(name)) => Some(Self::By {
                sequence: sequence.parse().ok()?,
                name: name.into(),
            }),
            (START, None, None) => Some(Self::Start),
            (PICTURE, Some(futures), None) => {
                Some(Self::Picture(match futures.parse::<usize>().ok()? {
                    0 => Means::TooSlow,
                    futures => Means::Forecast(Effort::of(futures)),
                }))
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back_under_our_own_name_only() {
        for word in [
            OwnWord::Start,
            OwnWord::Picture(Means::TooSlow),
            OwnWord::Picture(Means::Forecast(Effort::of(64))),
            OwnWord::By {
                sequence: 7,
                name: "mate's phone".into(),
            },
        ] {
            let text = word.encode();
            assert_eq!(OwnWord::read(OWN_FEED, &text), Some(word), "{text}");
            assert_eq!(OwnWord::read("wind", &text), None);
        }
        // Checksum: own arithmetic, exclusive-or of `PSKWD,START`.
        assert_eq!(OwnWord::Start.encode(), "$PSKWD,START*37");
        for other in [
            "$PSKWD,PICTURE*00",
            "$PSKWD,PICTURE,x*00",
            "$PSKWD,PICTURE,1,2*00",
            "$PSKWD,BY,1*00",
            "$PSKWD,BY,x,mate*00",
            "$PSKWDX,START*00",
            "$PSKWT,1,BITE*00",
            "",
        ] {
            assert_eq!(OwnWord::read(OWN_FEED, other), None, "{other}");
        }
    }
}
