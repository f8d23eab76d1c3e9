//! A file of one's own in the directory for temporary files, which `run.sh` makes in memory.

use std::fs;
use std::path::PathBuf;

/// Empties the directory and writes the file.
pub fn file(name: &str, bytes: &[u8]) -> PathBuf {
    let dir = std::env::temp_dir().join(format!("skimwatch-fuzz-{}", std::process::id()));
    // There is none at first.
    let _ = fs::remove_dir_all(&dir);
    fs::create_dir_all(&dir).expect("a directory for temporary files");
    let path = dir.join(name);
    fs::write(&path, bytes).expect("a temporary file");
    path
}
