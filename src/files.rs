//! Replacing a small file whole, so that a power cut leaves either the old or the new one.

use std::fs::{self, File, OpenOptions, Permissions};
use std::io::{self, Read as _, Write as _};
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};

/// Ends the name of a file that is to replace another: none that anybody else would give.
const FRESH_END: &str = ".skimwatch-new";
/// For the owner alone.
const PRIVATE: u32 = 0o600;
/// Longer than any small file that is read whole.
const SMALL_BYTES: u64 = 64 * 1024;

/// The name of a file beside another: that one's with `ending` after it.
#[must_use]
pub fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// Whether a name still leads to this open file: somebody may have moved or deleted it.
///
/// # Errors
/// What the system says; not found when nothing has that name any more.
pub fn leads_to(path: &Path, file: &File) -> io::Result<bool> {
    let (there, here) = (fs::metadata(path)?, file.metadata()?);
    Ok((there.dev(), there.ino()) == (here.dev(), here.ino()))
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
/// permissions it is to have before anything is in it. When this returns, file and name are on the
/// disk.
///
/// # Errors
/// What the system says. The old file is then as it was, unless only the name could not be made
/// sure of.
pub fn replace(
    path: &Path,
    bytes: &[u8],
    prepare: impl FnOnce(&File) -> io::Result<()>,
) -> io::Result<()> {
    let fresh = beside(path, FRESH_END);
    clear_up(path)?;
    let written = (|| {
        let mut file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&fresh)?;
        prepare(&file)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(&fresh, path)
    })();
    if written.is_err() {
        // What is half written is of no use to anybody.
        let _ = fs::remove_file(&fresh);
    }
    written?;
    sync_directory(directory_of(path))
}

/// The same for the owner alone; makes the directory if need be.
///
/// # Errors
/// As of [`replace`].
pub fn replace_private(path: &Path, bytes: &[u8]) -> io::Result<()> {
    fs::create_dir_all(directory_of(path))?;
    replace(path, bytes, |file| {
        file.set_permissions(Permissions::from_mode(PRIVATE))
    })
}

/// The text of a small file; `None` when there is none.
///
/// # Errors
/// What the system says; also when it is longer than any small file of ours.
pub fn small_text(path: &Path) -> io::Result<Option<String>> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error),
    };
    let mut text = String::new();
    file.take(SMALL_BYTES + 1).read_to_string(&mut text)?;
    if text.len() as u64 > SMALL_BYTES {
        return Err(io::Error::other("it is too long"));
    }
    Ok(Some(text))
}

/// Takes away what a [`replace`] that was killed left beside a file.
///
/// # Errors
/// When it is there and stays.
pub fn clear_up(path: &Path) -> io::Result<()> {
    match fs::remove_file(beside(path, FRESH_END)) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

/// The directory that a file is in.
#[must_use]
pub fn directory_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Waits until the names in a directory are on the disk; a file system that knows no such thing
/// does what it can by itself.
///
/// # Errors
/// What the system says.
pub fn sync_directory(dir: &Path) -> io::Result<()> {
    match File::open(dir)?.sync_all() {
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported
            ) =>
        {
            Ok(())
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_kill_left_is_cleared_up_and_nothing_else() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("boat.toml");
        let left = beside(&path, FRESH_END);
        let foreign = beside(&path, ".new");
        fs::write(&path, "old").unwrap();
        fs::write(&left, "half").unwrap();
        fs::write(&foreign, "somebody's").unwrap();
        replace(&path, b"new", |_| Ok(())).unwrap();
        assert!(!left.exists());
        fs::write(&left, "half").unwrap();
        clear_up(&path).unwrap();
        clear_up(&path).unwrap();
        assert!(!left.exists());
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        assert_eq!(fs::read_to_string(&foreign).unwrap(), "somebody's");
    }

    #[test]
    fn a_link_laid_in_the_way_is_not_followed() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("learnt.json");
        let foreign = dir.path().join("foreign");
        fs::write(&foreign, "somebody's").unwrap();
        std::os::unix::fs::symlink(&foreign, beside(&path, FRESH_END)).unwrap();
        replace(&path, b"new", |_| Ok(())).unwrap();
        assert_eq!(fs::read_to_string(&foreign).unwrap(), "somebody's");
        assert!(!path.is_symlink());
    }

    #[test]
    fn a_file_named_without_a_directory_is_in_the_one_we_are_in() {
        assert_eq!(directory_of(Path::new("boat.toml")), Path::new("."));
        assert_eq!(directory_of(Path::new("/etc/boat.toml")), Path::new("/etc"));
        sync_directory(directory_of(Path::new("boat.toml"))).unwrap();
    }
}
