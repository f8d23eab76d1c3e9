//! The crew's posts: each gets a number, becomes a sentence, and is answered.

use crate::decode::{CrewInput, crew_sentence, encode_crew};
use crate::record::KeptIn;
use crate::serve::{CrewReply, Recorded};

/// Numbers the crew's inputs, so that one can be taken back.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct CrewSequence {
    last: u32,
}

impl CrewSequence {
    /// The next number, and the sentence of an input with it.
    pub(super) fn next(&mut self, input: &CrewInput) -> (u32, String) {
        self.last = self.last.wrapping_add(1);
        (self.last, encode_crew(input, self.last))
    }

    /// Goes on from the numbers in a recording.
    pub(super) fn heard(&mut self, text: &str) {
        if let Some(sequence) = crew_sentence::sequence(text) {
            self.last = self.last.max(sequence);
        }
    }
}

/// Tells the poster what became of it.
pub(super) fn answer(reply: CrewReply, sequence: u32, kept: KeptIn) {
    // A poster who hung up meanwhile does not mind.
    let _ = reply.send(Ok(Recorded { sequence, kept }));
}

/// Tells the poster as soon as it is known where his sentence is kept; nobody waits for that here.
pub(super) fn answer_when_kept(
    reply: CrewReply,
    sequence: u32,
    kept: Option<impl Future<Output = KeptIn> + Send + 'static>,
) {
    match kept {
        Some(kept) => {
            tokio::spawn(async move { answer(reply, sequence, kept.await) });
        }
        None => answer(reply, sequence, KeptIn::Memory),
    }
}
