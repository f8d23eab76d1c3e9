//! Replacing a small file whole, so that a power cut leaves either the old or the new one.

use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The name of a file beside another: that one's with `ending` after it.
#[must_use]
pub fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// Files kept aside beside one another.
const MOST_ASIDE: u32 = 99;

/// Moves a file that does not hold what it should out of the way, to a name that is free.
///
/// # Errors
/// What the system says; the file is then where it was.
pub fn set_aside(path: &Path) -> io::Result<PathBuf> {
    let free = (1..=MOST_ASIDE)
        .map(|number| beside(path, &format!(".aside-{number}")))
        .find(|name| !name.exists())
        .ok_or_else(|| io::Error::other("too many files are kept aside already"))?;
    fs::rename(path, &free)?;
    Ok(free)
}

/// Writes the new file beside the old one and then over it. `prepare` gives it the owner and
/// permissions it is to have before anything is in it.
///
/// # Errors
/// What the system says; the old file is then as it was.
pub fn replace(
    path: &Path,
    bytes: &[u8],
    prepare: impl FnOnce(&File) -> io::Result<()>,
) -> io::Result<()> {
    let fresh = beside(path, ".new");
    let written = (|| {
        let mut file = File::create(&fresh)?;
        prepare(&file)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(&fresh, path)
    })();
    if written.is_err() {
        // What is half written is of no use to anybody.
        let _ = fs::remove_file(&fresh);
    }
    written
}
