//! The project's own source as text.

use std::path::{Path, PathBuf};

/// Files below a folder with this extension, in order of their names.
pub(crate) fn files_below(folder: &Path, extension: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files_below(&path, extension));
        } else if path.extension().is_some_and(|own| own == extension) {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// A file's text up to its unit tests.
pub(crate) fn without_tests(text: &str) -> &str {
    let (code, _) = split_at_tests(text);
    code
}

/// A file's text before and in its unit tests.
pub(crate) fn split_at_tests(text: &str) -> (&str, &str) {
    let tests = text.find("#[cfg(test)]\nmod tests");
    text.split_at(tests.unwrap_or(text.len()))
}

/// The lines of a text without what stands behind `//`.
pub(crate) fn without_comments(text: &str) -> String {
    let code = |line: &str| {
        let bare = line.trim_start();
        if bare.starts_with("//") {
            return String::new();
        }
        line.split_once(" // ")
            .map_or(line, |(code, _)| code)
            .to_owned()
    };
    text.lines().map(code).collect::<Vec<_>>().join("\n")
}
