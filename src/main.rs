//! The `skimwatch` program: see [`skimwatch::command`].

use std::process::ExitCode;

fn main() -> ExitCode {
    skimwatch::command::main()
}
