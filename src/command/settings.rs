//! `skimwatch settings`: the commented settings file.

use super::{Failure, print_line};
use crate::settings::template;

pub(super) fn settings() -> Result<(), Failure> {
    print_line(template().trim_end())
}
