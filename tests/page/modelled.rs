//! A moment as the real rooms make it: an invented boat in an invented wind, but turn, forecast
//! and advice from the program itself. For pictures, and for a look at real shapes in the page.

use std::sync::Arc;

use skimwatch::advice::{AdviceBoard, AdviceSettings};
use skimwatch::decode::BaitState;
use skimwatch::engine::{Mode, Snapshot};
use skimwatch::forecast::{Effort, ForecastSettings, Forecaster};
use skimwatch::rig::RigParameters;
use skimwatch::time::Millis;
use skimwatch::turn::{TurnSettings, TurnWatch};

use crate::forecast_scene::{Boat, announce, at, deck, tap};
use crate::invented;

/// Twelve seconds on a straight course, bait seen skipping, then a turn toward the wind (or away
/// from it) announced. The times are moved so that the last tick is at `shown_at`.
pub fn moment(by_deg: f64, shown_at: Millis) -> Snapshot {
    let boat = Boat {
        heading_deg: 90.0,
        rate_deg_s: 0.0,
        speed_mps: 3.0,
        wind_mps: 8.2,
        wind_from_deg: 0.0,
    };
    let mut turns = TurnWatch::new(TurnSettings::default());
    let rig = Some(RigParameters::default());
    let mut forecaster = Forecaster::new(ForecastSettings::default(), rig, 10.0).unwrap();
    let mut board = AdviceBoard::new(AdviceSettings::default());
    let begin_s = shown_at.seconds_since(at(0.0)) - 12.0;
    let mut deck = deck(100.0, 135.0);
    let mut last = None;
    for second in 0..=12 {
        let now = at(begin_s + f64::from(second));
        if second == 3 {
            deck.bait = Some(tap(BaitState::Skipping, now));
        }
        if second == 6 {
            deck.intended_turn = Some(announce(now, 30.0, by_deg, 2.0));
        }
        let vessel = boat.now(now);
        let outlook = turns.outlook(now, &vessel, &deck);
        let forecast = forecaster.forecast(now, &vessel, &deck, &outlook, Effort::FULL);
        let seen = forecast.as_ref().map(AsRef::as_ref);
        board.update(now, &vessel, &deck, seen);
        last = Some((now, vessel, forecast));
    }
    let (now, vessel, forecast): (_, _, Result<Arc<_>, _>) = last.unwrap();
    Snapshot {
        vessel,
        deck,
        forecast,
        advisories: board.living(),
        mode: Mode::Demo,
        ..invented::moment("calm", now)
    }
}
