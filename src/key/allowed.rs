//! What the value of a key may be.

use std::fmt;

/// What a value may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Allowed {
    /// A number, both ends included.
    Number(f64, f64),
    /// A whole number, both ends included.
    Whole(u64, u64),
    /// One of some words.
    Words(&'static [&'static str]),
    /// Yes or no.
    Flag,
    /// Free text of one to so many printable characters.
    Text(usize),
    /// A text of the form described.
    Form(&'static str),
    /// A list of texts, each of the form described.
    List(&'static str),
}

impl Allowed {
    /// Whether a number is allowed.
    #[must_use]
    pub fn holds(&self, number: f64) -> bool {
        match *self {
            Self::Number(least, most) => (least..=most).contains(&number),
            Self::Whole(least, most) => {
                number.fract() == 0.0 && (least as f64..=most as f64).contains(&number)
            }
            _ => false,
        }
    }

    /// Whether a text is allowed, as far as a table can say it.
    #[must_use]
    pub fn holds_text(&self, text: &str) -> bool {
        match *self {
            Self::Words(words) => words.contains(&text),
            Self::Text(longest) => {
                !text.trim().is_empty()
                    && text.chars().count() <= longest
                    && !text.chars().any(char::is_control)
            }
            Self::Form(_) => !text.trim().is_empty(),
            _ => false,
        }
    }

    /// Least and greatest number.
    #[must_use]
    pub fn range(&self) -> Option<[f64; 2]> {
        match *self {
            Self::Number(least, most) => Some([least, most]),
            Self::Whole(least, most) => Some([least as f64, most as f64]),
            _ => None,
        }
    }
}

impl fmt::Display for Allowed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(least, most) => write!(f, "{least} to {most}"),
            Self::Whole(least, most) => write!(f, "{least} to {most}"),
            Self::Words(words) => {
                let quoted: Vec<_> = words.iter().map(|word| format!("\"{word}\"")).collect();
                f.write_str(&quoted.join(" or "))
            }
            Self::Flag => f.write_str("true or false"),
            Self::Text(longest) => write!(f, "1 to {longest} characters, all printable"),
            Self::Form(form) => f.write_str(form),
            Self::List(form) => write!(f, "a list of texts, each {form}"),
        }
    }
}
