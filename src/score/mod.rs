//! Score: how often the advice was right, how early, and how well calibrated its chances are.
//!
//! In: what truly happened ([`Truth`], or the crew's taps on a real day), the advisory revisions
//! and forecasts of a replay in order, what the crew said. Out: [`Marks`] that add up over
//! recordings, and a [`Report`] of them as text, JSON and a picture. It must not know files,
//! clocks, the rig model or how a forecast is made.
//!
//! # Definitions, so that anybody else would count the same
//! Times are seconds after the first line of the recording.
//!
//! **Trouble** is a [`Trouble`](crate::forecast::Trouble) that the truth shows: bait-airborne,
//! bait-dragging or kite-sinking; the others are not scored. It is **on** when, respectively,
//! immersion is 0, immersion >= 0.7, or kite elevation is below 20 degrees. Each row of the truth
//! holds until the next one.
//!
//! **Event**: an unbroken stretch of one trouble of at least 3 s (shorter ones are hops in a gust,
//! and are dropped first); then events of one kind with less than 5 s between end and onset are
//! merged. Its *onset* is its first row: the moment the bait leaves its band. An event that is on
//! at the first row has no onset and is not scored.
//!
//! **Cause** of an event, the first that fits:
//! 1. *hands*: a line was moving, in the direction that brings it, at the onset or within 15 s
//!    before (main line taken: airborne; given: dragging; kite line either way: all);
//! 2. *turn*: the latest turn with helm over <= onset <= helm over + |angle| / rate + 40 s (the
//!    rig follows a turn for some tens of seconds);
//! 3. *air*: neither (gusts, shifts, a line badly trimmed before).
//!
//! A turn is **planned** when it was told ahead, else **under way**. Every figure is given apart
//! for events and advisories of planned turns, of turns under way, and of no turn.
//!
//! **Moves** of the main line are the truth's own (its length changes by 0.5 m or more, pauses
//! below 3 s included); those of the kite line, which the truth does not hold, are the crew's
//! words, taken to end when told and to have run at 1 m/s.
//!
//! **Advisory**: from raised until it is given an outcome, or is marked as not watched any more, or
//! the end of the recording. One that comes back after that counts as another one, raised when it
//! came back.
//!
//! **Detected**: an advisory of the event's kind was raised before the onset and living at it.
//! *Probability of detection* = detected / events, without events that hands brought.
//!
//! **Lead** (lead time) = onset - raised; with several such advisories, of the one raised first. It never
//! starts before the turn could be known: for a planned turn when it was announced, for one under
//! way when the helm went over (an earlier advisory was about something else). An advisory that
//! foretold several events gives one lead, that of the first. Median and 10th percentile
//! interpolate linearly between sorted values (at (n - 1) q).
//!
//! **Fate** of an advisory, the first that fits:
//! 1. *true*: an event of its kind has its onset in its life;
//! 2. *told*: it was raised at once on the crew's own tap of that trouble: a report passed on
//!    (right or wrong), not a forecast;
//! 3. *late*: it was raised while an event of its kind was on;
//! 4. *withdrawn*: it ended because the turn was called off; *lost*: because no
//!    forecast watched it any more;
//! 5. *averted*: hands moved a line against it (main line given: airborne; taken: dragging; kite
//!    line either way: all) by 0.5 m or more, beginning in its life and not later than 5 s after
//!    the onset it foresaw just before they did;
//! 6. *open*: the recording ended before the onset it foresaw last;
//! 7. *false*: none of these.
//!
//! *False alarm ratio* = false / (true + false). A true advisory belongs to the class of its
//! first event's cause; any other to the latest turn in whose time it was raised: from told
//! (planned) or helm over (under way) to the end of the span in *cause*.
//!
//! **Burden**: share of the time without trouble in which a scored advisory stands as a warning or an
//! alarm. Without trouble is a moment at which no event of any kind is on or begins within 60 s;
//! looked at once a second. None without a truth.
//!
//! **Chance sample**: each forecast and each kind: the chance it gives against whether an event of
//! that kind has its onset in (made, made + horizon]. Samples made while such an event is on, or
//! whose horizon passes the end of the truth, are left out and counted. *Brier score* = mean of
//! (chance - outcome)^2; *base rate* = mean outcome; *skill* = 1 - Brier / (base rate (1 - base
//! rate)), none when the base rate is 0 or 1. A reliability bin is 10 % wide ([0, 10), ...,
//! [90, 100]); its gap is observed frequency - mean chance.
//!
//! The question is whether trouble *begins*, so samples made while it is on are left out. In all
//! sets but *whole*, the part of the chance that the forecast assigns to trouble already on is
//! removed too: the chance that counts is (chance x share - on already) / (1 - on already), with
//! the share of the onsets as below (1 for the full horizon). A forecast that believed the bait
//! airborne while it skipped is penalised in *whole* and in the advisories.
//!
//! **Interventions.** A forecast is conditional on the lines as they are and on the turns it can
//! know. When hands then move a line, or a turn begins that was not announced when the forecast was
//! made, the condition no longer holds. So there are three sets:
//! - *whole*: every sample as it is, and the whole chance. Penalises the forecast for the effects
//!   of hands and unannounced turns.
//! - *censored*: drops a sample when hands move a line (either one, 0.5 m or more) or such a turn
//!   begins in its horizon, before the event if there is one. That avoids the penalty, but only
//!   samples without an event are dropped, so the remaining frequencies are biased high. Where
//!   hands move after every turn it keeps the events and drops the rest.
//! - *shortened*: cuts the horizon at the first intervention instead and uses the chance until
//!   then: chance x share of the onsets before the cut, the share linear between (0, 0), (p10,
//!   0.1), (p50, 0.5), (p90, 0.9), (horizon, 1) of the forecast's onset band. Which samples are
//!   kept does not depend on the outcome, so this set is the one to judge by. Horizons cut below 5
//!   s are dropped. Where hands move *because* of an event the cut still contains some information
//!   about it; the scripted crews of our recordings move by the clock.
//!
//! In all sets but *whole*, forecasts made while a line is moving are dropped.
//!
//! Samples a second apart are strongly correlated. The counts of events beside them show how much
//! evidence there is; a bin with fewer than 30 samples is shown as thin.
//!
//! **Skipping in turns**: share of the truth's time in the spans of its turns (as in *cause*) in
//! which the bait neither flies nor drags, hops included.

mod details;
mod judge;
mod labels;
mod marks;
mod picture;
mod reliability;
mod report;
mod revision;
mod tally;
mod taps;
mod truth;

pub use details::Detail;
pub use labels::{Cause, Event, Labels, LineMove, Rules, Turn, is_scored};
pub use marks::{Class, Fate, Marks};
pub use picture::reliability_svg;
pub use reliability::{Bin, Reliability};
pub use report::{ChanceSet, Chances, Report, Told};
pub use revision::Revision;
pub use tally::Tally;
pub use truth::{Truth, TruthError, TruthRow, TruthTurn};
