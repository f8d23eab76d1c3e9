//! Data that lies beside the project, not in it, and other things that not every machine has.

use std::path::{Path, PathBuf};

/// A folder beside the project; `None`, said aloud, where it is absent.
pub(crate) fn beside(name: &str) -> Option<PathBuf> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../shared")
        .join(name);
    if dir.is_dir() {
        return Some(dir);
    }
    skipped(&format!("{} is absent", dir.display()));
    None
}

/// Says that a test is skipped. With `CI` set that is a failure.
pub(crate) fn skipped(why: &str) {
    assert!(std::env::var_os("CI").is_none(), "CI needs it: {why}");
    println!("skipped: {why}");
}
