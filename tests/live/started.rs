//! The built program, started and killed with the test that uses it.

use std::io::{self, BufRead, BufReader, Lines};
use std::process::{Child, ChildStderr, Command, Stdio};

/// The demo's boat with few futures and one feed, its page at a free port of this computer; `more` are
/// further sections of the settings.
pub fn quick_boat(feed: &str, more: &str) -> String {
    format!(
        "{}\n[forecast]\nparticles = 64\nfutures = 48\n\n[[feed]]\nname = \"network\"\n{feed}\n\n[serve]\nbind = \"127.0.0.1:0\"\nmdns_name = \"\"\n\n{more}",
        include_str!("../../config/demo.toml"),
    )
}

/// A program that shows a page.
pub struct Started {
    pub child: Child,
    /// Where the page is.
    pub base: String,
    /// What it said up to there, and says from there on.
    said: Option<(Vec<String>, Lines<BufReader<ChildStderr>>)>,
}

impl Started {
    /// Started with these words, once it says where its page is.
    pub fn new(arguments: &[&str]) -> Self {
        Self::by(Command::new(env!("CARGO_BIN_EXE_skimwatch")).args(arguments))
    }

    /// Started by this command.
    pub fn by(command: &mut Command) -> Self {
        let mut child = command
            .env_remove("JOURNAL_STREAM")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut said = BufReader::new(child.stderr.take().unwrap()).lines();
        let mut first = Vec::new();
        let base = said
            .find_map(|line| {
                first.push(line.unwrap());
                let (_, rest) = first.last()?.split_once("page at ")?;
                Some(rest.split_once("/ (")?.0.to_owned())
            })
            .expect("the program says where its page is");
        Self {
            child,
            base,
            said: Some((first, said)),
        }
    }

    /// The same, when nobody asks what it says.
    pub fn unheard(arguments: &[&str]) -> Self {
        let mut started = Self::new(arguments);
        started.hush();
        started
    }

    /// Lets nobody ask what it says.
    pub fn hush(&mut self) {
        let said = self.said();
        // Whoever writes to a pipe that nobody reads is stopped by it.
        std::thread::spawn(move || said.for_each(drop));
    }

    /// What it says, from its start until it ends.
    pub fn said(&mut self) -> impl Iterator<Item = io::Result<String>> + Send + use<> {
        let (first, rest) = self.said.take().expect("asked once");
        first.into_iter().map(Ok).chain(rest)
    }
}

impl Drop for Started {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
