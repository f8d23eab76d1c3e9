//! Sentence text in, typed observations with units out. Knows no clock, socket, file or thread,
//! nor what anybody does with an observation.
//!
//! Every sentence passes three gates: its frame (`$`, address, printable characters, nothing after
//! the checksum), the form of its fields (strict numbers, letters, field count), and the range of
//! every value (finite, inside what the field may hold, units that agree). What fails one is
//! refused whole, with the cause. A sentence whose status or mode says "not valid", or whose fields
//! are empty, is void: it is understood but holds no data.
//!
//! To add a sentence: see DEVELOPERS.md.

mod bridge;
mod clock;
pub mod crew;
mod crew_decode;
mod crew_encode;
pub mod crew_sentence;
mod cut;
mod fields;
mod forms;
pub mod geo;
mod heading;
pub mod motion;
mod observation;
pub mod outcome;
mod position;
mod ranges;
mod route_list;
mod speed;
mod steering;
mod talker;
mod target;
mod water;
mod waypoint;
mod wind;

pub use crew::{
    Asked, BaitState, CorrectBy, Correctable, Correction, CrewInput, LaunchDay, LaunchSaid, Line,
    MarkChange, MarkHow, MarkSaid, PassWord, PlanAnswer, Priority, SessionMark, SetAndDrift,
    SettingChange, StrikeWord,
};
pub use crew_encode::encode_crew;
pub use geo::GeoPosition;
pub use observation::{
    AutopilotDemand, BearingToWaypoint, Direction, HeadingObservation, LegBearing, LegToWaypoint,
    North, Observation, Route, RouteScope, SteeringControl, SteeringFlag, SteeringMode,
    SteeringOrigin, Target, TargetBearing, TargetPlace, TurnMode,
};
pub use outcome::{DecodeReject, Decoded};
pub use talker::Talker;

use cut::Cut;
use fields::Fields;
use route_list::{RouteAssembly, RoutePart};

type Reader = fn(&Fields<'_>) -> Result<Vec<Observation>, DecodeReject>;

/// Kind, least and greatest number of fields, reader. RTE, which needs memory, is apart.
const READERS: &[(&str, usize, usize, Reader)] = &[
    ("APB", 14, 15, waypoint::apb),
    ("BOD", 5, 6, waypoint::bod),
    ("BWC", 12, 13, waypoint::bwc),
    ("DBT", 6, 6, water::dbt),
    ("DPT", 1, 3, water::dpt),
    ("GGA", 12, 14, position::gga),
    ("GLL", 4, 7, position::gll),
    ("GNS", 12, 13, position::gns),
    ("HDG", 5, 5, heading::hdg),
    ("HDM", 2, 2, heading::hdm),
    ("HDT", 2, 2, heading::hdt),
    ("HSC", 4, 5, steering::hsc),
    ("HTC", 13, 14, steering::htc),
    ("HTD", 17, 17, steering::htd),
    ("MOB", 10, 14, target::mob),
    ("MTW", 2, 2, water::mtw),
    ("MWD", 6, 8, wind::mwd),
    ("MWV", 4, 5, wind::mwv),
    ("RMB", 13, 14, waypoint::rmb),
    ("RMC", 9, 13, position::rmc),
    ("ROT", 2, 2, steering::rot),
    ("RSA", 2, 4, steering::rsa),
    ("THS", 2, 2, heading::ths),
    ("TLL", 7, 9, target::tll),
    ("TTM", 12, 15, target::ttm),
    ("VBW", 6, 10, speed::vbw),
    ("VHW", 8, 8, speed::vhw),
    ("VTG", 4, 9, speed::vtg),
    ("VWR", 4, 8, wind::vwr),
    ("VWT", 4, 8, wind::vwt),
    ("WPL", 5, 5, waypoint::wpl),
    ("XDR", 4, usize::MAX, motion::xdr),
    ("XTE", 5, 6, waypoint::xte),
    ("ZDA", 4, 6, clock::zda),
];

/// The kinds of [`READERS`] as numbers in the same order, which are quicker to compare.
const NUMBERS: [u32; READERS.len()] = {
    let mut numbers = [0; READERS.len()];
    let mut i = 0;
    while i < numbers.len() {
        numbers[i] = number(READERS[i].0);
        i += 1;
    }
    numbers
};

const ROUTE: u32 = number("RTE");

/// A kind of three characters as a number.
const fn number(kind: &str) -> u32 {
    match *kind.as_bytes() {
        [a, b, c] => u32::from_be_bytes([0, a, b, c]),
        _ => 0,
    }
}

/// Whether sentences of this kind are read at all.
#[must_use]
pub fn reads(kind: &str) -> bool {
    kind == "RTE" || kind == crew_sentence::KIND || READERS.iter().any(|(known, ..)| *known == kind)
}

/// Turns sentences into observations. Each feed needs its own, because it remembers that feed's
/// unfinished routes (and nothing else).
#[derive(Debug, Default)]
pub struct Decoder {
    routes: RouteAssembly,
}

impl Decoder {
    /// A decoder that has seen nothing.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Decodes one sentence, `$` first, with or without its checksum (`*hh`, which the framer has
    /// already compared) and line end.
    ///
    /// # Errors
    /// A [`DecodeReject`] that says why nothing of the sentence may be used.
    pub fn decode(&mut self, sentence: &str) -> Result<Decoded, DecodeReject> {
        let cut = Cut::new(sentence)?;
        let address = cut.address;
        let unsupported = || DecodeReject::Unsupported {
            address: address.chars().take(16).collect(),
        };
        if address.starts_with('P') {
            if address == "PSKWT" {
                return crew(cut);
            }
            return Err(unsupported());
        }
        if address.len() != 5 {
            return Err(unsupported());
        }
        let (talker, kind) = address.split_at(2);
        let talker = Talker::new(talker).ok_or_else(unsupported)?;
        let number = number(kind);
        if number == ROUTE {
            return self.route(talker, cut);
        }
        let index = NUMBERS.binary_search(&number);
        let (kind, least, greatest, read) = READERS[index.map_err(|_| unsupported())?];
        let fields = Fields::new(talker, kind, cut, (least, greatest))?;
        Ok(Decoded {
            talker,
            kind,
            observations: read(&fields)?,
            partial: false,
        })
    }

    fn route(&mut self, talker: Talker, cut: Cut<'_>) -> Result<Decoded, DecodeReject> {
        let fields = Fields::new(talker, "RTE", cut, (4, usize::MAX))?;
        let (observations, partial) = match self.routes.take(&fields)? {
            RoutePart::Whole(route) => (vec![Observation::Route(route)], false),
            RoutePart::Unfinished => (Vec::new(), true),
            RoutePart::Empty => (Vec::new(), false),
        };
        Ok(Decoded {
            talker,
            kind: fields.kind,
            observations,
            partial,
        })
    }
}

fn crew(cut: Cut<'_>) -> Result<Decoded, DecodeReject> {
    let talker = Talker::PROPRIETARY;
    let fields = Fields::new(talker, crew_sentence::KIND, cut, (2, usize::MAX))?;
    Ok(Decoded {
        talker,
        kind: fields.kind,
        observations: crew_decode::decode(&fields)?,
        partial: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readers_are_in_order_and_unique() {
        assert!(READERS.windows(2).all(|pair| pair[0].0 < pair[1].0));
        assert!(
            READERS
                .iter()
                .all(|(_, least, greatest, _)| least <= greatest)
        );
    }
}
