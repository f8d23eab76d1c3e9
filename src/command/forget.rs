//! `skimwatch forget`: what was learnt of this rig is deleted.

use std::path::Path;

use super::{Failure, print_line};
use crate::settings;

pub(super) fn forget(path: &Path) -> Result<(), Failure> {
    let settings = settings::load(path).map_err(Failure::settings)?;
    let Some(file) = settings.learnt_file else {
        return print_line("forecast.learnt_file is not set: nothing learnt is kept");
    };
    match std::fs::remove_file(&file) {
        Ok(()) => print_line(&format!(
            "{}: forgotten; a daemon that runs now goes on with what it knows, and keeps it anew, \
             until it is restarted",
            file.display()
        )),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            print_line(&format!("{}: nothing was learnt yet", file.display()))
        }
        Err(error) => Err(Failure::unavailable(format!("{}: {error}", file.display()))),
    }
}
