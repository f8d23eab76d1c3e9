//! The file of the phones, and the console's key beside it.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::phones::Phones;
use super::token::{Hash, Token};
use crate::files::{beside, clear_up, replace_private, set_aside, small_text};

/// Reads the phones. A file that holds something else is set aside, and the log says so: then
/// nobody has joined.
pub(super) fn read(path: &Path) -> Phones {
    let name = path.display();
    if let Err(why) = clear_up(path) {
        tracing::debug!("{name}: a leftover of writing it stays: {why}");
    }
    let why = match text(path) {
        Ok(None) => return Phones::default(),
        Ok(Some(text)) => match serde_json::from_str(&text) {
            Ok(phones) => return phones,
            Err(why) => why.to_string(),
        },
        Err(why) => why.to_string(),
    };
    match set_aside(path) {
        Ok(aside) => tracing::warn!(
            "{name} does not hold phones ({why}): every phone must join again; it is kept as {}",
            aside.display()
        ),
        Err(error) => tracing::warn!(
            "{name} does not hold phones ({why}): every phone must join again; it cannot be moved \
             aside ({error})"
        ),
    }
    Phones::default()
}

/// The text of a file; `None` when there is none, or nothing in it.
fn text(path: &Path) -> io::Result<Option<String>> {
    Ok(small_text(path)?.filter(|text| !text.is_empty()))
}

/// Writes the phones, for the owner alone.
pub(super) fn write(path: &Path, phones: &Phones) -> io::Result<()> {
    replace_private(path, &serde_json::to_vec(phones)?)
}

/// Where the console's key is while a program runs that keeps its phones in this file.
#[must_use]
pub fn console_file(phones: &Path) -> PathBuf {
    beside(phones, ".console")
}

/// The key with which commands at the console ask the program that runs. Its file goes with it.
#[derive(Debug)]
pub struct ConsoleKey {
    path: PathBuf,
    pub(super) hash: Hash,
}

/// Why a command at the console has no key.
#[derive(Debug, thiserror::Error)]
pub enum ConsoleKeyError {
    /// It cannot be read.
    #[error("{path}: {why}. Run this as root (sudo), or as the user of the daemon")]
    Unreadable {
        /// Which file.
        path: String,
        /// As the system says it.
        why: io::Error,
    },
}

impl ConsoleKey {
    pub(super) fn write(phones: &Path) -> io::Result<Self> {
        let token = Token::random()?;
        let path = console_file(phones);
        replace_private(&path, token.secret().as_bytes())?;
        Ok(Self {
            path,
            hash: token.hash(),
        })
    }

    /// Reads the key of the program that runs; `None` when there is none.
    ///
    /// # Errors
    /// When it is there and cannot be read.
    pub fn read(phones: &Path) -> Result<Option<String>, ConsoleKeyError> {
        let path = console_file(phones);
        text(&path).map_err(|why| ConsoleKeyError::Unreadable {
            path: path.display().to_string(),
            why,
        })
    }
}

impl Drop for ConsoleKey {
    fn drop(&mut self) {
        // It is worth nothing once the program has ended.
        let _ = fs::remove_file(&self.path);
    }
}
