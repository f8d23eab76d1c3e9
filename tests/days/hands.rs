//! Hands that follow the advice, late and inexactly, on any stage on which they can move line.
//!
//! They begin after their reaction time, move line at their pace, tell it in steps with 10 % of error,
//! and look again. What they do changes what follows.

use skimwatch::advice::{Action, Advisory};
use skimwatch::decode::{BaitState, CrewInput, encode_crew};
use skimwatch::engine::{Engine, Event, Mode};
use skimwatch::forecast::Hands;
use skimwatch::scene::{ScriptMove, TruthRow};
use skimwatch::settings::Settings;
use skimwatch::time::Millis;
use skimwatch::units::{degrees, metres};

use crate::dice::Dice;
use crate::{Outcome, START};

/// Line moved is told after so long, while hands go on.
const TELL_S: f64 = 4.0;
/// Hands are free again so long after a move.
const REST_S: f64 = 2.0;
/// Error of the kite's elevation as it is told.
pub const ELEVATION_DEG: f64 = 4.0;

/// What hands see and change.
pub trait Stage {
    /// How long it lasts, s.
    fn duration_s(&self) -> f64;
    /// Sentences of the instruments so far, with the moments of their arrival, in order. Those of
    /// the past stay when line is moved.
    fn lines(&self) -> &[(Millis, String)];
    /// What is to be seen; `None` once the kite has come down.
    fn row(&self, t_s: f64) -> Option<&TruthRow>;
    /// Plays on with a further move.
    fn moved(&mut self, hand: ScriptMove) -> Outcome<()>;
}

/// What the crew says at a fixed moment.
#[derive(Debug, Clone)]
pub enum Word {
    /// This.
    Input(CrewInput),
    /// What is to be seen then: what the bait does, and half of the times how high the kite stands.
    Look,
}

/// Hands with a line under way.
struct Busy {
    hand: ScriptMove,
    told_m: f64,
}

/// The crew: what it hears, does and says.
struct Crew<'a> {
    pace: Hands,
    dice: &'a mut Dice,
    sequence: u32,
    busy: Option<Busy>,
    free_at_s: f64,
}

impl Crew<'_> {
    fn say(&mut self, engine: &mut Engine, at_s: f64, input: &CrewInput) {
        self.sequence += 1;
        let _ = engine.take(Event::Line {
            at: START.plus_seconds(at_s),
            feed: "crew",
            text: &encode_crew(input, self.sequence),
        });
    }

    /// Tells what is to be seen.
    fn look(&mut self, engine: &mut Engine, at_s: f64, row: Option<&TruthRow>) {
        let Some(row) = row else {
            return;
        };
        self.say(engine, at_s, &CrewInput::Bait(row.bait()));
        if self.dice.between(0.0, 1.0) < 0.5 {
            let seen_deg = self.dice.about(row.kite_elevation_deg, ELEVATION_DEG);
            self.say(
                engine,
                at_s,
                &CrewInput::Elevation(degrees(seen_deg.round())),
            );
        }
    }

    /// Tells what has been moved since it last told.
    fn tell(&mut self, engine: &mut Engine, at_s: f64) {
        let Some(busy) = self.busy.as_mut() else {
            return;
        };
        let share = ((at_s - busy.hand.start_s) / busy.hand.over_s).clamp(0.0, 1.0);
        let new_m = share * busy.hand.by_m - busy.told_m;
        let due = share >= 1.0
            || new_m.abs() >= TELL_S * self.pace.pace_m_per_s(busy.hand.line, busy.hand.by_m);
        if !due {
            return;
        }
        busy.told_m += new_m;
        let line = busy.hand.line;
        if share >= 1.0 {
            self.busy = None;
            self.free_at_s = at_s + REST_S;
        }
        let by = metres(new_m * self.dice.about(1.0, 0.1));
        self.say(engine, at_s, &CrewInput::Moved { line, by });
    }

    /// The next move that the most pressing advisory asks for, when hands are free.
    fn heed(&mut self, at_s: f64, advisories: &[Advisory]) -> Option<ScriptMove> {
        if self.busy.is_some() || at_s < self.free_at_s {
            return None;
        }
        let living = advisories.iter().filter(|a| a.outcome.is_none());
        let (line, by_m, start_at) =
            living
                .flat_map(|advisory| &advisory.actions)
                .find_map(|action| match action {
                    Action::MoveLine {
                        line,
                        by_m,
                        start_at,
                        ..
                    } => Some((*line, *by_m, *start_at)),
                    _ => None,
                })?;
        let start_s = start_at.seconds_since(START);
        if start_s > at_s + self.pace.reaction_s {
            return None;
        }
        let hand = ScriptMove {
            start_s: start_s.max(at_s + self.pace.reaction_s),
            line,
            by_m,
            over_s: by_m.abs() / self.pace.pace_m_per_s(line, by_m),
            told: false,
        };
        self.busy = Some(Busy { hand, told_m: 0.0 });
        Some(hand)
    }
}

/// Plays the stage with hands that follow the plan; gives the moves they made. `says` is what the crew
/// says besides, in order of time.
pub fn follow(
    settings: &Settings,
    stage: &mut impl Stage,
    says: &[(f64, Word)],
    dice: &mut Dice,
) -> Outcome<Vec<ScriptMove>> {
    let mut chain = settings.engine()?;
    chain.feeds.clear();
    let mut engine = Engine::new(chain, Mode::Replay);
    let mut crew = Crew {
        pace: settings.forecast.hands,
        dice,
        sequence: 0,
        busy: None,
        free_at_s: 0.0,
    };
    let mut moves = Vec::new();
    let (mut next_line, mut next_word) = (0, 0);
    for second in 1..=stage.duration_s() as u32 {
        let t_s = f64::from(second);
        let now = START.plus_seconds(t_s);
        while let Some((at, line)) = stage.lines().get(next_line).filter(|(at, _)| *at <= now) {
            next_line += 1;
            let _ = engine.take(Event::Line {
                at: *at,
                feed: "instruments",
                text: line,
            });
        }
        while let Some((_, word)) = says.get(next_word).filter(|(at_s, _)| *at_s <= t_s) {
            next_word += 1;
            match word {
                Word::Input(input) => crew.say(&mut engine, t_s, input),
                Word::Look => crew.look(&mut engine, t_s, stage.row(t_s)),
            }
        }
        crew.tell(&mut engine, t_s);
        let Some(picture) = engine.take(Event::Tick { at: now }) else {
            continue;
        };
        if let Some(hand) = crew.heed(t_s, &picture.snapshot.advisories) {
            moves.push(hand);
            stage.moved(hand)?;
        }
    }
    Ok(moves)
}

/// Share of some spans of time, up to the end, in which the bait skips, and the seconds it is a share
/// of. It does not skip once the kite has come down and the rows end.
pub fn skipping(rows: &[TruthRow], spans: &[(f64, f64)], end_s: f64) -> (f64, f64) {
    let [first, second, ..] = rows else {
        return (0.0, 0.0);
    };
    let row_s = second.t_s - first.t_s;
    let within =
        |t_s: f64| t_s < end_s && spans.iter().any(|(from, to)| (*from..*to).contains(&t_s));
    let skips = rows
        .iter()
        .filter(|row| within(row.t_s) && row.bait() == BaitState::Skipping);
    let all = (0..(end_s / row_s).ceil() as u32).filter(|i| within(f64::from(*i) * row_s));
    let all = all.count();
    let share = skips.count() as f64 / all.max(1) as f64;
    (share, row_s * all as f64)
}

/// The moves in a line, from the start of some turn.
pub fn told(moves: &[ScriptMove], from_s: f64) -> String {
    let one = |m: &ScriptMove| {
        format!(
            "{:+.0} m {:?} at {:+.0} s",
            m.by_m,
            m.line,
            m.start_s - from_s
        )
    };
    moves.iter().map(one).collect::<Vec<_>>().join(", ")
}
