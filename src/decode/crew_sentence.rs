//! The crew's sentence: what the crew says, as text in the same stream as the instruments, so that
//! a recording replays the whole day.
//!
//! ```text
//! $PSKWT,<seq>,<word>[,<field>...]*hh<CR><LF>
//! ```
//!
//! It is a proprietary sentence (`P`). `SKW` is this project's own manufacturer code, **not
//! registered** with anybody; `T` (what the crew taps) is its only type. `<seq>` is a whole number
//! from 0 to 4294967295, counted up by the writer, so that a later input can take this one back.
//! `hh` is the usual checksum: exclusive-or of all characters between `$` and `*`, two hexadecimal
//! digits.
//!
//! | word | fields after it | meaning |
//! |---|---|---|
//! | `LINES` | kite line m; main line m | line out now; either may be empty, not both; 0 to 1000 |
//! | `MOVED` | `K` kite or `M` main; metres | line given (+) or taken (-); within 1000 |
//! | `BAIT` | `A` airborne, `S` skipping, `D` dragging | what the bait does |
//! | `UNDO` | seq of the input taken back | |
//! | `ELEV` | degrees, 0 to 90 | kite line above the horizon at the kite rod |
//! | `CORNER` | degrees, -180 to 180 | kite line off dead astern, + to starboard |
//! | `MARKER` | `1` in the water, `0` not | the marker |
//! | `TURN` | degrees, + to starboard, within 720; degrees a second, 0.01 to 60; seconds until it starts, 0 to 3600 | intended turn |
//! | `CALLOFF` | | the intended turn is called off |
//! | `PLAN` | `D` done, `H` half, `O` other; id of the advisory; its revision; `K` or `M`; metres asked, within 1000 | answer to the line an advisory asked for; the last four all or none: without them it answers what is asked first |
//! | `BITE` | | a fish has taken the bait |
//! | `STRIKE` | `HOME`, `BAITIN`, `DOWN`, `TIGHT`, `DRAG`, `FISH`, `TURNED`, `KITEIN`, `ANGLER`; `MISSED`, `OFF`, `CUT`, `LANDED`, `RELEASED`, `STAYS`; after `FISH` degrees off the bow, + to starboard, -180 to 180 | a step of a strike or of the kite on its way home is done; how it ended |
//! | `MARK` | name; `ddmm.mmmmm`; `N`/`S`; `dddmm.mmmmm`; `E`/`W`; `H` the boat was there, `E` seen by eye, `T` entered; metres away, 1 to 20000; number, 1 to 9999 | a place to fish, up to 89 degrees north and south; name may be empty; without the four position fields it is here and now; how it is known may be left out (entered, or here); metres with `E` only; only a mark of before a restart has a number |
//! | `UNMARK` | number of the mark | it is to go |
//! | `NAMED` | number of the mark; name | its name; empty for none |
//! | `DRIFT` | number of the mark; degrees true, 0 to 360; m/s, 0 to 5 | how it moves over the ground from now on; the last two both or none: not known |
//! | `PASS` | `Q` ask, `A` accept, `D` decline, `E` end; number of the mark | a pass of the bait over it |
//! | `SOURCE` | name: feed, a space, talker and kind; `0` not to be used, `1` used again | a source of the instruments |
//! | `ACK` | id of the advisory; `A` alarm, `W` warning, `C` caution: what it was then, may be empty | somebody has seen it |
//! | `SILENCE` | minutes, 0 to 1440 | no sound for so long; 0 ends it |
//! | `SESSION` | `1` starts, `0` stops | fishing |
//! | `LAUNCH` | `B` begins; wind m/s; gusts m/s; boat m/s; degrees, 0 to 180; metres | a launch begins with kite and bait in; its steps are for this wind at 10 m, so far off the bow, and this kite line out at last |
//! | `LAUNCH` | `S`; steps, 0 to 99; kite line m; main line m | so many steps are answered; line out by then, either may be empty |
//! | `LAUNCH` | `E` | the launch is over: done, or given up |
//! | `CORRECT` | `A` wind angle, `S` wind speed, `L` log, `C` compass, `R` rate of turn; talker; correction; with `C` also its part with the sine and its part with the cosine of the heading | from now on this is added to the value that the talker sends (degrees, within 180, of the compass within 45; degrees a second, within 10), or multiplies it (`S`, `L`; 0.25 to 4); without talker and correction: no correction any more |
//! | `FORGET` | | what was learnt of this kite is forgotten |
//! | `BEFORE` | seconds ago, negative when the clock is behind; `1` still counts, `0` only to be shown and asked for; `LINES`, `MARKER`, `TURN`, `BITE`, `STRIKE`, `MARK`, `DRIFT`, `SOURCE`, `CORRECT`, `ACK`, `SILENCE`, `SESSION` or `LAUNCH` with its fields | said before the program was restarted, and repeated by the program |
//! | `SET` | key; value; how many more | a setting changed while the program runs; an empty value takes the key out; all take effect with the one after which no more come |
//!
//! Numbers are plain decimals (`12.5`, `-3`, `+40`), never with an exponent. We write metres,
//! degrees and seconds with two decimals, metres to a mark with none, a set with one, rates and drifts
//! with three, corrections of a rate with three and factors with four, minutes of silence with one,
//! and read any number of them. In names, ids, keys and values a character that sentences reserve
//! (`! $ * , \ ^ ~`), that is not printable or not ASCII is written as `^hh` for each byte of its
//! UTF-8 form. So that no sentence exceeds the 82 characters of the standard, names and ids are then
//! cut to [`MAX_NAME`], [`MAX_SOURCE`], [`MAX_ADVISORY_ID`] or [`MAX_ASKED_ID`] characters, keys to
//! [`MAX_SETTING_KEY`], and key and value together to [`MAX_SETTING`]. A name is cut further where a
//! position, or an age after `BEFORE`, needs the room.
//!
//! Examples (checksums are ours): `$PSKWT,7,MOVED,M,-3.00*54`, `$PSKWT,8,TURN,40.00,6.000,21.60*6B`.
//!
//! Written by `crew_encode.rs`, read by `crew_decode.rs`.

use std::fmt::Write as _;

use super::crew::SettingChange;

/// Kind of the sentence: the letters after the `P`.
pub(super) const KIND: &str = "SKWT";

/// Longest sentence without its line end.
pub(super) const MOST: usize = 80;
/// Longest name of a mark, in characters of the sentence (an escaped byte takes three).
pub const MAX_NAME: usize = 20;
/// Longest name of a source, in characters of the sentence.
pub const MAX_SOURCE: usize = 44;
/// Longest id of an advisory, in characters of the sentence.
pub const MAX_ADVISORY_ID: usize = 40;
/// Longest id of an advisory that an answer names, in characters of the sentence.
pub const MAX_ASKED_ID: usize = 30;
/// Longest key of a setting, in characters of the sentence.
pub const MAX_SETTING_KEY: usize = 35;
/// Longest key and value of a setting together, in characters of the sentence.
pub const MAX_SETTING: usize = 51;
/// Greatest age of what was said before a restart, seconds, either way: a clock that was never set may
/// be decades behind.
pub const MOST_AGE_S: f64 = 5e9;
/// Greatest number of a mark.
pub const MAX_MARK: u32 = 9999;
/// Most steps of a launch.
pub const MAX_STEPS: u32 = 99;
/// Most settings that may still come.
pub(super) const MAX_MORE: u32 = 99;

/// Whether a text is a crew sentence, well-formed or not.
#[must_use]
pub fn is_one(text: &str) -> bool {
    text.strip_prefix("$P")
        .and_then(|text| text.strip_prefix(KIND))
        .is_some_and(|rest| rest.starts_with([',', '*']))
}

/// Sequence number of a crew sentence, read without decoding the rest; `None` for any other text.
#[must_use]
pub fn sequence(text: &str) -> Option<u32> {
    let fields = text.strip_prefix("$P")?.strip_prefix(KIND)?;
    fields.split(',').nth(1)?.parse().ok()
}

/// Whether a sentence can carry this change whole.
#[must_use]
pub fn setting_fits(change: &SettingChange) -> bool {
    let places = |text: &str| escape(text, usize::MAX).len();
    let key = places(&change.key);
    let value = places(change.value.as_deref().unwrap_or_default());
    key <= MAX_SETTING_KEY && key + value <= MAX_SETTING
}

/// A text as a field holds it, cut before the first character that would exceed `limit`.
pub(super) fn escape(text: &str, limit: usize) -> String {
    let mut escaped = String::new();
    for character in text.chars() {
        let mut piece = String::new();
        if matches!(character, ' '..='}') && !"!$*,\\^".contains(character) {
            piece.push(character);
        } else {
            let mut buffer = [0; 4];
            for byte in character.encode_utf8(&mut buffer).bytes() {
                // Writing to a string cannot fail.
                let _ = write!(piece, "^{byte:02X}");
            }
        }
        if escaped.len() + piece.len() > limit {
            break;
        }
        escaped.push_str(&piece);
    }
    escaped
}
