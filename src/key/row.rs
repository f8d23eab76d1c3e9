//! Sections and keys: the rows of the key table.

use std::fmt;

use super::allowed::Allowed;
use super::complaint::{Complaint, Problem};

/// A section of the settings file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// With the sections around it: "forecast.hands".
    pub name: &'static str,
    /// Whether it is a list, `[[...]]`.
    pub is_list: bool,
    /// Whether the commented file shows it as a comment only.
    pub is_comment: bool,
    /// Heading above it in the commented file; empty for none.
    pub heading: &'static str,
    /// What it is for, below its name in the commented file.
    pub about: &'static str,
    /// Its keys, in the order of the file.
    pub keys: &'static [Key],
    /// What follows in the commented file, as it stands: further examples of a list.
    pub examples: &'static str,
}

impl Section {
    /// A section with a heading of its own, or below the one before where that is empty.
    #[must_use]
    pub const fn new(
        name: &'static str,
        heading: &'static str,
        about: &'static str,
        keys: &'static [Key],
    ) -> Self {
        Self {
            name,
            is_list: false,
            is_comment: false,
            heading,
            about,
            keys,
            examples: "",
        }
    }

    /// As a list, with further examples.
    #[must_use]
    pub const fn list(self, examples: &'static str) -> Self {
        Self {
            is_list: true,
            examples,
            ..self
        }
    }

    /// As a comment only: it is an example that few boats need.
    #[must_use]
    pub const fn as_comment(self) -> Self {
        Self {
            is_comment: true,
            ..self
        }
    }

    /// The whole name of one of its keys.
    #[must_use]
    pub fn key(&self, name: &str) -> String {
        format!("{}.{name}", self.name)
    }
}

/// One row of the key table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// Name below its section, with its unit at the end; with a dot where the value is in braces:
    /// "rod_tip_kite.aft_m".
    pub name: &'static str,
    /// What the value may be.
    pub allowed: Allowed,
    /// Unit as people read it; empty for a plain number or a text.
    pub unit: &'static str,
    /// What counts while the file does not give it.
    pub fallback: Fallback,
    /// Value that the commented file shows, as TOML; empty for the default.
    pub example: &'static str,
    /// Whether the commented file gives it, not only in a comment.
    pub is_given: bool,
    /// What it is, one plain line without a full stop at its end.
    pub what: &'static str,
    /// Where a crew measures or finds it, likewise; it says so where there is nothing to measure.
    pub how: &'static str,
    /// How the rig page shows it; `None` when no page may change it.
    pub page: Option<Page>,
}

/// What counts while the file does not give a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fallback {
    /// The file must give it.
    Needed,
    /// Nothing: what depends on it is left out, or somebody is asked.
    Nothing,
    /// An estimate from other keys.
    Estimate,
    /// This number.
    Number(f64),
    /// This word or text.
    Word(&'static str),
    /// Yes or no.
    Flag(bool),
}

/// How the rig page shows a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Page {
    /// What it is shown with.
    pub group: Group,
    /// Its name in words.
    pub name: &'static str,
}

/// Groups of keys on the rig page, in its order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Group {
    Kite,
    KiteLine,
    MainLine,
    Marker,
    Bait,
    Strengths,
    Boat,
    Start,
    Hands,
    Sea,
    Passes,
    Units,
    Structure,
}

impl Group {
    /// As the page writes it.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Kite => "Kite",
            Self::KiteLine => "Kite line",
            Self::MainLine => "Main line",
            Self::Marker => "Marker",
            Self::Bait => "Bait",
            Self::Strengths => "Breaking loads",
            Self::Boat => "Boat",
            Self::Start => "Lines out at the start",
            Self::Hands => "Hands and reels",
            Self::Sea => "The sea",
            Self::Passes => "Passes over a mark",
            Self::Units => "Units on the pages",
            Self::Structure => "Boat structure",
        }
    }
}

impl Key {
    const fn new(name: &'static str, allowed: Allowed, unit: &'static str) -> Self {
        Self {
            name,
            allowed,
            unit,
            fallback: Fallback::Needed,
            example: "",
            is_given: false,
            what: "",
            how: "",
            page: None,
        }
    }

    /// A number; both ends are allowed.
    #[must_use]
    pub const fn number(name: &'static str, unit: &'static str, least: f64, most: f64) -> Self {
        Self::new(name, Allowed::Number(least, most), unit)
    }

    /// A whole number; both ends are allowed.
    #[must_use]
    pub const fn whole(name: &'static str, unit: &'static str, least: u64, most: u64) -> Self {
        Self::new(name, Allowed::Whole(least, most), unit)
    }

    /// One of some words.
    #[must_use]
    pub const fn words(name: &'static str, words: &'static [&'static str]) -> Self {
        Self::new(name, Allowed::Words(words), "")
    }

    /// Yes or no.
    #[must_use]
    pub const fn flag(name: &'static str, default: bool) -> Self {
        let mut key = Self::new(name, Allowed::Flag, "");
        key.fallback = Fallback::Flag(default);
        key
    }

    /// Free text of one to `longest` printable characters.
    #[must_use]
    pub const fn text(name: &'static str, longest: usize) -> Self {
        Self::new(name, Allowed::Text(longest), "")
    }

    /// A text of a form: "host:port, such as 192.0.2.7:10110".
    #[must_use]
    pub const fn form(name: &'static str, form: &'static str) -> Self {
        Self::new(name, Allowed::Form(form), "")
    }

    /// A list of texts of a form; empty by default.
    #[must_use]
    pub const fn list(name: &'static str, form: &'static str) -> Self {
        Self::new(name, Allowed::List(form), "").or(Fallback::Nothing)
    }

    /// With this in its place while the file does not give it.
    #[must_use]
    pub const fn or(mut self, fallback: Fallback) -> Self {
        self.fallback = fallback;
        self
    }

    /// With this number by default.
    #[must_use]
    pub const fn default(self, number: f64) -> Self {
        self.or(Fallback::Number(number))
    }

    /// What it is, and where a crew measures or finds it (may be empty).
    #[must_use]
    pub const fn about(mut self, what: &'static str, how: &'static str) -> Self {
        self.what = what;
        self.how = how;
        self
    }

    /// With an example for the commented file, in TOML.
    #[must_use]
    pub const fn example(mut self, example: &'static str) -> Self {
        self.example = example;
        self
    }

    /// Given in the commented file with this value, in TOML.
    #[must_use]
    pub const fn given(mut self, value: &'static str) -> Self {
        self.example = value;
        self.is_given = true;
        self
    }

    /// Changed from the rig page under this name.
    #[must_use]
    pub const fn on_page(mut self, group: Group, name: &'static str) -> Self {
        self.page = Some(Page { group, name });
        self
    }

    /// As a key of a list that no page changes.
    #[must_use]
    pub const fn of_list(self) -> Self {
        Self {
            page: None,
            is_given: false,
            ..self
        }
    }

    /// What it is and where to find it, in sentences.
    #[must_use]
    pub fn explanation(&self) -> String {
        [self.what, self.how]
            .into_iter()
            .filter(|text| !text.is_empty())
            .map(sentence)
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// What to do about a value that is not allowed.
    #[must_use]
    pub fn cure(&self) -> &'static str {
        match self.fallback {
            _ if !self.how.is_empty() => self.how,
            Fallback::Number(_) | Fallback::Word(_) | Fallback::Flag(_) => {
                "leave the key away for the default"
            }
            _ => self.what,
        }
    }

    /// A complaint about a value that is not allowed.
    #[must_use]
    pub fn refuse(&self, value: impl fmt::Display) -> Complaint {
        Complaint {
            place: None,
            key: self.name.to_owned(),
            value: Some(value.to_string()),
            problem: Problem::NotAllowed(self.allowed),
            cure: self.cure().to_owned(),
        }
    }

    /// A complaint about a value that is not allowed because of another.
    #[must_use]
    pub fn clash(
        &self,
        value: impl fmt::Display,
        problem: String,
        cure: impl Into<String>,
    ) -> Complaint {
        Complaint {
            problem: Problem::Other(problem),
            cure: cure.into(),
            ..self.refuse(value)
        }
    }
}

/// The default of a number; a constant made of it does not compile where there is none.
#[must_use]
pub const fn default_of(keys: &[Key], name: &str) -> f64 {
    match row_of(keys, name).fallback {
        Fallback::Number(number) => number,
        _ => panic!("this key has no number by default"),
    }
}

/// The row of a key; a constant made of it does not compile where there is none.
#[must_use]
pub const fn row_of<'k>(keys: &'k [Key], name: &str) -> &'k Key {
    let mut index = 0;
    while index < keys.len() {
        if same(keys[index].name.as_bytes(), name.as_bytes()) {
            return &keys[index];
        }
        index += 1;
    }
    panic!("no such key in this table")
}

const fn same(a: &[u8], b: &[u8]) -> bool {
    if a.len() != b.len() {
        return false;
    }
    let mut index = 0;
    while index < a.len() {
        if a[index] != b[index] {
            return false;
        }
        index += 1;
    }
    true
}

/// The words of a list of words with their meanings.
#[must_use]
pub const fn words_of<T, const N: usize>(meanings: &[(&'static str, T); N]) -> [&'static str; N] {
    let mut words = [""; N];
    let mut index = 0;
    while index < N {
        words[index] = meanings[index].0;
        index += 1;
    }
    words
}

/// A text as a sentence.
#[must_use]
pub fn sentence(text: &str) -> String {
    let mut characters = text.chars();
    let first = characters.next().map(char::to_uppercase);
    let rest = characters.as_str();
    first
        .into_iter()
        .flatten()
        .chain(rest.chars())
        .chain(['.'])
        .collect()
}
