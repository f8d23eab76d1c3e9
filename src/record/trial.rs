//! Whether the recordings' directory can be written, and if not, why, in words.

use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::path::Path;

use super::settings::RecordSettings;

/// Writes a file in the directory as a trial and removes it again, together with any directories
/// that were created for it.
///
/// # Errors
/// What is wrong, with the cure where one is known.
pub fn try_out(settings: &RecordSettings) -> Result<(), String> {
    let dir = settings.dir();
    let missing: Vec<&Path> = dir.ancestors().take_while(|dir| !dir.exists()).collect();
    let name = dir.join(format!(".skimwatch-trial-{}", std::process::id()));
    let tried = (|| {
        fs::create_dir_all(dir)?;
        let mut file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&name)?;
        file.write_all(b"skimwatch was here\n")?;
        file.sync_all()
    })();
    // Nothing is there to be taken away when it could not be made.
    let _ = fs::remove_file(&name);
    for made in missing {
        let _ = fs::remove_dir(made);
    }
    tried.map_err(|error| words(dir, &error))
}

/// What is wrong with the directory, and the cure where one is known.
pub(super) fn words(dir: &Path, error: &io::Error) -> String {
    let dir = dir.display();
    match error.kind() {
        io::ErrorKind::StorageFull => {
            format!("the disk of {dir} is full: make room, or lower max_total_mib")
        }
        io::ErrorKind::QuotaExceeded => {
            format!("the quota of {dir} is used up: make room, or lower max_total_mib")
        }
        io::ErrorKind::FileTooLarge => format!(
            "a file in {dir} may not grow further: raise the limit on file sizes (LimitFSIZE of \
             the service, ulimit -f), or set max_file_mib below it"
        ),
        io::ErrorKind::PermissionDenied => {
            format!("{dir} may not be written: let the user of skimwatch write there")
        }
        io::ErrorKind::ReadOnlyFilesystem => {
            format!("the file system of {dir} is read-only: mount it for writing, or replace it")
        }
        io::ErrorKind::NotFound => {
            format!("the recording in {dir} was deleted or moved: a new one is begun")
        }
        _ => format!("{dir} cannot be written ({error}): look at the directory and its disk"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(dir: &Path) -> RecordSettings {
        RecordSettings::new(dir.to_owned(), 1, 2).unwrap()
    }

    #[test]
    fn a_trial_leaves_nothing() {
        let dir = tempfile::tempdir().unwrap();
        try_out(&settings(dir.path())).unwrap();
        try_out(&settings(&dir.path().join("one").join("two"))).unwrap();
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_place_that_cannot_be_written_is_named() {
        let dir = tempfile::tempdir().unwrap();
        let place = dir.path().join("recordings");
        fs::write(&place, "a file in the way").unwrap();
        let wrong = try_out(&settings(&place)).unwrap_err();
        assert!(wrong.contains("recordings cannot be written"), "{wrong}");
        assert_eq!(fs::read(&place).unwrap(), b"a file in the way");
        // Not even root may make a file there.
        let wrong = try_out(&settings(Path::new("/proc/skimwatch"))).unwrap_err();
        assert!(wrong.contains("/proc/skimwatch"), "{wrong}");
    }
}
