//! A correction as hands carry it out: in portions with a look at the bait between, as crews do
//! (common practice, no source), or in one go where there is no time for that.

use crate::decode::Line;
use crate::forecast::futures::Move;
use crate::forecast::hands::Hands;

/// A correction in so many equal portions, from `start_s` on.
pub fn carried_out(
    hands: &Hands,
    line: Line,
    (count, by_m): (usize, f64),
    start_s: f64,
) -> impl Iterator<Item = Move> {
    let over_s = hands.over_s(line, by_m);
    let each_s = over_s + hands.look_s;
    (0..count).map(move |i| Move {
        line,
        by_m,
        start_s: start_s + i as f64 * each_s,
        over_s,
    })
}

/// When hands have carried these out; `None` without any.
pub fn done_s(moves: &[Move]) -> Option<f64> {
    moves.last().map(|step| step.start_s + step.over_s)
}

/// Moves that nobody has told of yet, so much later: hands still carry out one after another.
pub fn carried_on(moves: Vec<Move>, passed_s: f64, hands: &Hands) -> Vec<Move> {
    let mut before: Option<Move> = None;
    moves
        .into_iter()
        .map(|step| {
            let free_s = before.map_or(0.0, |last: Move| {
                let look_s = if last.line == step.line {
                    hands.look_s
                } else {
                    0.0
                };
                last.start_s + last.over_s + look_s
            });
            let step = Move {
                start_s: (step.start_s - passed_s).max(free_s),
                ..step
            };
            before = Some(step);
            step
        })
        .collect()
}

/// How many of the moves at the end are portions of one correction.
pub fn last_portions(moves: &[Move]) -> usize {
    let corrections = moves.chunk_by(|a, b| (a.line, a.by_m) == (b.line, b.by_m));
    corrections.last().map_or(0, <[Move]>::len)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented.
    const HANDS: Hands = Hands {
        reaction_s: 4.0,
        give_m_per_s: 2.0,
        take_m_per_crank: 1.0,
        cranks_per_s: 1.0,
        kite_give_m_per_s: 2.0,
        kite_m_per_crank: 1.0,
        kite_cranks_per_s: 1.0,
        portion_m: 4.0,
        look_s: 5.0,
    };

    fn in_portions(line: Line, by_m: f64, start_s: f64) -> Vec<Move> {
        carried_out(&HANDS, line, HANDS.portions(by_m), start_s).collect()
    }

    #[test]
    fn portions_are_of_the_crews_own_size_with_a_look_between() {
        let moves = in_portions(Line::Main, -13.0, 10.0);
        // Own arithmetic: 13 m in three portions of 4.33 m, rounded to 4.5 m, 4.5 s each.
        assert!(moves.iter().all(|m| m.by_m == -4.5 && m.over_s == 4.5));
        let starts: Vec<f64> = moves.iter().map(|m| m.start_s).collect();
        assert_eq!(starts, [10.0, 19.5, 29.0]);
        assert_eq!(done_s(&moves), Some(33.5));
        assert!(moves.iter().all(|m| !HANDS.is_one_go(m.by_m)));
        assert_eq!(last_portions(&moves), 3);
    }

    #[test]
    fn little_is_one_portion() {
        let [little] = in_portions(Line::Main, 2.0, 0.0)[..] else {
            panic!("one portion");
        };
        assert_eq!((little.by_m, HANDS.is_one_go(little.by_m)), (2.0, false));
        let mut one_go = carried_out(&HANDS, Line::Main, (1, 40.0), 0.0);
        let (Some(much), None) = (one_go.next(), one_go.next()) else {
            panic!("one go");
        };
        assert_eq!((much.by_m, much.over_s), (40.0, 20.0));
        assert!(HANDS.is_one_go(much.by_m));
    }

    #[test]
    fn what_nobody_told_of_is_still_done_one_after_another() {
        let mut moves = in_portions(Line::Kite, -4.0, 2.0);
        moves.extend(in_portions(Line::Main, 8.0, 6.0));
        let later = carried_on(moves, 30.0, &HANDS);
        let starts: Vec<f64> = later.iter().map(|m| m.start_s).collect();
        // Own arithmetic: 4 s for the kite line, 2 s for each portion of main line, 5 s to look.
        assert_eq!(starts, [0.0, 4.0, 11.0]);
    }
}
