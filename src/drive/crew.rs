//! The crew's posts: each gets a number, becomes a sentence, and is answered.

use std::time::Duration;

use tokio::sync::oneshot;

use crate::decode::{CrewInput, crew_sentence, encode_crew};
use crate::record::KeptIn;
use crate::serve::{CrewReply, Recorded};

/// Longest that a poster waits for journal and logbook.
const PATIENCE: Duration = Duration::from_secs(2);

/// Numbers the crew's inputs, so that one can be taken back.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct CrewSequence {
    last: u32,
}

impl CrewSequence {
    /// Goes on after this number.
    pub(super) fn after(last: u32) -> Self {
        Self { last }
    }

    /// The next number, and the sentence of an input with it.
    pub(super) fn next(&mut self, input: &CrewInput) -> (u32, String) {
        // Number 0 is the program's own.
        self.last = self.last.checked_add(1).unwrap_or(1);
        (self.last, encode_crew(input, self.last))
    }

    /// Goes on from the numbers in a recording.
    pub(super) fn heard(&mut self, text: &str) {
        if let Some(sequence) = crew_sentence::sequence(text) {
            self.last = self.last.max(sequence);
        }
    }
}

/// Answers a post.
pub(super) fn answer(reply: CrewReply, sequence: u32, kept: KeptIn) {
    // A poster who hung up meanwhile does not mind.
    let _ = reply.send(Ok(Recorded { sequence, kept }));
}

/// Tells the poster as soon as it is known whether the recording and the `files` (journal, logbook),
/// where there are any, have his sentence on the disk; nobody waits for that here.
pub(super) fn answer_when_kept(
    reply: CrewReply,
    sequence: u32,
    recording: Option<impl Future<Output = KeptIn> + Send + 'static>,
    files: Vec<oneshot::Receiver<bool>>,
) {
    if recording.is_none() && files.is_empty() {
        return answer(reply, sequence, KeptIn::Memory);
    }
    let recorded = async {
        match recording {
            Some(recording) => recording.await == KeptIn::Disk,
            None => true,
        }
    };
    let filed = async {
        let all = futures_util::future::join_all(files);
        match tokio::time::timeout(PATIENCE, all).await {
            Ok(kept) => kept.iter().all(|kept| *kept == Ok(true)),
            Err(_) => false,
        }
    };
    tokio::spawn(async move {
        let kept = if tokio::join!(recorded, filed) == (true, true) {
            KeptIn::Disk
        } else {
            KeptIn::Memory
        };
        answer(reply, sequence, kept);
    });
}
