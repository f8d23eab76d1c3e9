//! What each field may hold: forms of older editions and loose talkers, void sentences, and bad
//! fields with the refusal that names them.

use skimwatch::cause::Cause;
use skimwatch::decode::{DecodeReject, Decoder};

use crate::decode_words::words;

/// Forms that older or looser talkers send. All invented but for the bodies marked: BADD is
/// G. Baddeley, *GPS - NMEA sentence information*, ESR is E. S. Raymond, *NMEA Revealed*, MEMORY is
/// from memory and unverified.
#[test]
fn forms_of_other_editions_are_read() {
    #[rustfmt::skip]
    let table = [
        // RMC that ends after the date, after the variation, with an empty status of 4.1.
        ("$GPRMC,220516,A,5133.82,N,00042.24,W,5.0,231.8,130694",
            "utc 1994-06-13 22:05:16; at 51.563667 -0.704; course 231.8T -M; ground 5kn"),
        ("$GPRMC,220516,A,5133.82,N,00042.24,W,5.0,231.8,130694,4.2,E",
            "utc 1994-06-13 22:05:16; at 51.563667 -0.704; course 231.8T -M; ground 5kn; variation 4.2"),
        ("$GPRMC,220516,A,5133.82,N,00042.24,W,5.0,231.8,130694,4.2,E,D,",
            "utc 1994-06-13 22:05:16; at 51.563667 -0.704; course 231.8T -M; ground 5kn; variation 4.2"),
        // A leap second.
        ("$GPRMC,235960.5,A,5133.82,N,00042.24,W,5.0,231.8,311216,,,A",
            "utc 2016-12-31 23:59:60.500; at 51.563667 -0.704; course 231.8T -M; ground 5kn"),
        ("$GPZDA,235960,31,12,2016,,", "utc 2016-12-31 23:59:60"),
        // No date yet.
        ("$GPZDA,110003,,,,00,", "utc - 11:00:03"),
        ("$GPRMC,220516,A,5133.82,N,00042.24,W,,,,,", "utc - 22:05:16; at 51.563667 -0.704"),
        // VTG: first edition; knots missing (body in BADD with knots).
        ("$GPVTG,054,034,005.5,010.2", "course 54T 34M; ground 5.5kn"),
        ("$GPVTG,054.7,T,034.4,M,,N,010.2,K", "course 54.7T 34.4M; ground 5.508kn"),
        ("$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K", "course 54.7T 34.4M; ground 5.5kn"),
        // Log in km/h only; astern.
        ("$IIVHW,,,,,,N,9.26,K", "water 5kn -"),
        ("$IIVHW,,T,,M,-0.5,N,-0.93,K", "water -0.5kn -"),
        ("$IIVHW,45.0,,43.0,M,5.0,N,,", "heading 43M; water 5kn -"),
        ("$YDVHW,45.0,T,43.0,M,3.5,N,6.4,K,", "heading 45T; heading 43M; water 3.5kn -"),
        // Depth: offset to the keel, none, empty.
        ("$SDDPT,17.9,-0.5", "depth 17.9m -0.5m"),
        ("$SDDPT,17.9", "depth 17.9m -"),
        ("$SDDPT,17.9,,100.0", "depth 17.9m -"),
        ("$SDDBT,,f,10.4,M,,F", "depth 10.4m -"),
        ("$SDDBT,10.0,f,,M,,F", "depth 3.048m -"),
        // A talker whose fathom is 1.3 % short, as recorded.
        ("$IIDBT,034.28,f,010.45,M,005.64,F", "depth 10.45m -"),
        // Wind: no speed; no angle; dead ahead without a side.
        ("$IIMWV,030.0,R,,N,A", "apparent 30 -"),
        ("$IIMWV,030.0,R,,,A", "apparent 30 -"),
        ("$IIMWV,,R,5.0,N,A", "apparent - 5kn"),
        ("$IIMWV,360,R,10.0,S,A", "apparent 0 8.69kn"),
        ("$IIMWV,-30,R,5.0,N,A", "apparent 330 5kn"),
        ("$IIMWV,-180.0,R,5.0,N,A", "apparent 180 5kn"),
        ("$IIMWV,-0.0,R,5.0,N,A", "apparent 0 5kn"),
        ("$IIMWV,-12.5,T,5.0,N,A", "theoretical 347.5 5kn"),
        ("$IIVWR,0,,5.0,N", "apparent 0 5kn"),
        ("$IIVWR,90,L,,,,,18.52,K", "apparent 270 10kn"),
        ("$IIMWD,,,050.,M,18.0,N,09.3,M", "wind from -T 50M 18kn"),
        // True heading with its mode.
        ("$GPTHS,123.4,A", "heading 123.4T"),
        // Two-axis log: water good, ground not; astern and to port.
        ("$VDVBW,-1.5,-0.2,A,3.0,0.1,V", "water -1.5kn -0.2kn"),
        ("$VDVBW,4.0,,A,3.0,0.1,A,,V,,V", "water 4kn -; ground axes 3kn 0.1kn"),
        // The port rudder where the starboard one is not valid; a single rudder.
        ("$IIRSA,,V,-4.0,A", "rudder -4"),
        ("$IIRSA,-4.0,A", "rudder -4"),
        // GNS: one system of two has a fix (body MEMORY).
        ("$GNGNS,014035.00,4332.69262,S,17235.48549,E,RN,13,0.9,25.63,11.24,,",
            "utc - 01:40:35; at -43.544877 172.591425"),
        ("$GNGNS,014035.00,4332.69262,S,17235.48549,E,A,,,,,,,S",
            "utc - 01:40:35; at -43.544877 172.591425"),
        // Commanded heading with the mode of edition 4.
        ("$FTHSC,40.12,T,39.11,M,A", "steer 40.12T 39.11M"),
        // An escaped character in a name.
        ("$GPWPL,4917.16,N,12310.64,W,A^2CB", "waypoint A,B at 49.286 -123.177333"),
        // Targets: off the bow, in kilometres, without motion, lost, without a place.
        ("$RATTM,07,0.50,45.0,R,2.0,10.0,R,0.1,0.5,N,BIRDS,T",
            "target 7 BIRDS 0.5nmi 45 off the bow moving -"),
        ("$RATTM,07,1.852,45.0,T,1.852,10.0,T,,,K,,T,R,,A", "target 7 - 1nmi 45T moving 10 1kn"),
        ("$RATTM,07,,,T,,,T,,,N,,L", "target 7 - - moving -"),
        ("$RATTM,07,,,,,,,,,N,,T", ""),
        ("$RATTM,,0.5,45.0,T,,,T,,,N,,T", ""),
        ("$RATLL,07,,,,,,,L", "target 7 - - moving -"),
        // MOB, MEMORY: an emitter, a button; a test; a position in error; none.
        ("$AIMOB,12345,A,101500.00,1,270526,101500.00,4530.000,N,01200.000,E,10.0,0.5,992351234,0",
            "person in the water at 45.5 12"),
        ("$AIMOB,,M,,0,,,4530.000,S,01200.000,W", "person in the water at -45.5 -12"),
        ("$AIMOB,12345,T,,1,,,4530.000,N,01200.000,E", ""),
        ("$AIMOB,12345,A,,6,,,4530.000,N,01200.000,E", ""),
        ("$AIMOB,12345,A,,1,,,,,,", ""),
        // South and west.
        ("$GPGLL,3351.000,S,15112.000,W,101112.25,A,P", "utc - 10:11:12.250; at -33.85 -151.2"),
    ];
    for (line, wanted) in table {
        let said = Decoder::new().decode(line).map(|d| words(&d.observations));
        assert_eq!(said.as_deref(), Ok(wanted), "{line}");
    }
}

/// Understood, and says nothing: its own status, mode or emptiness says so. All invented.
#[test]
fn what_is_not_valid_is_void() {
    let void = [
        "$IIMWV,030.0,R,5.0,N,V",
        "$IIMWV,,,,,V",
        "$IIMWV,030.0,R,5.0,N,",
        "$GPRMC,220516,V,5133.82,N,00042.24,W,5.0,231.8,130694,,,N",
        "$GPRMC,,V,,,,,,,,,,N",
        // The mode outranks the status (ESR).
        "$GPRMC,220516,A,5133.82,N,00042.24,W,5.0,231.8,130694,,,E",
        "$GPRMC,220516,A,5133.82,N,00042.24,W,5.0,231.8,130694,,,S",
        "$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K,N",
        "$GPVTG,,,,,,,,,N",
        "$GPGGA,220516,5133.82,N,00042.24,W,0,00,,,M,,M,,",
        "$GPGGA,220516,5133.82,N,00042.24,W,6,00,,,M,,M,,",
        "$GPGGA,220516,5133.82,N,00042.24,W,8,00,,,M,,M,,",
        "$GPGGA,,,,,,,,,,,,,,",
        "$GNGNS,014035.00,4332.69262,S,17235.48549,E,NN,00,,,,,",
        "$GNGNS,014035.00,,,,,,,,,,,",
        "$GPGLL,5133.82,N,00042.24,W,220516,V",
        "$GPGLL,5133.82,N,00042.24,W,220516,A,M",
        "$GPTHS,123.4,E",
        "$GPTHS,123.4,V",
        "$HEROT,12.0,V",
        "$IIRSA,3.0,V,,V",
        "$GPXTE,A,V,0.10,R,N",
        "$GPXTE,A,A,0.10,R,N,N",
        "$GPAPB,A,A,,,N,A,V,,T,,,T,,T,A",
        "$GPAPB,V,A,0.10,R,N,V,V,011,M,DEST,011,M,011,M",
        "$GPRMB,A,,,,,,,,,,,,V",
        "$GPRMB,V,0.66,L,003,004,4917.24,N,12309.57,W,001.3,052.5,000.5,V",
        "$GPBOD,,T,,M,,",
        "$GPBOD,,,,,,",
        "$GPHDT,,",
        "$GPRTE,1,1,c,0",
        "$FTHSC,,T,,M",
        "$AGHTC,,,,,,,,,,,,,",
        "$SDDPT,,",
        "$SDDBT,,f,,M,,F",
        "$SDMTW,,C",
        "$IIXDR,A,,D,PITCH,A,,D,ROLL",
        "$IIXDR,C,19.5,C,AIRTEMP,P,1.013,B,BARO,A,-2.5,D,RUDDER",
        "$IIHDT,,T",
        "$IIHDM,,M",
        "$VDVBW,,,V,,,V",
        "$GPZDA,,,,,,",
    ];
    for line in void {
        let decoded = Decoder::new().decode(line);
        assert!(
            decoded.as_ref().is_ok_and(|d| d.is_void()),
            "{line}: {decoded:?}"
        );
    }
}

/// Each with the field that must be named. All invented.
#[test]
fn bad_fields_are_named() {
    let table = [
        ("$IIMWV,361,R,5.0,N,A", Cause::OutOfRange, "angle"),
        ("$IIMWV,-181,R,5.0,N,A", Cause::OutOfRange, "angle"),
        ("$IIMWV,030,R,-5.0,N,A", Cause::OutOfRange, "speed"),
        ("$IIMWV,030,R,205,N,A", Cause::OutOfRange, "speed"),
        ("$IIMWV,nan,R,5.0,N,A", Cause::Malformed, "angle"),
        ("$IIMWV,030,R,inf,N,A", Cause::Malformed, "speed"),
        ("$IIMWV,030,R,1e1,N,A", Cause::Malformed, "speed"),
        ("$IIMWV,030,R,5.0,,A", Cause::Malformed, "speed unit"),
        ("$IIMWV,030,X,5.0,N,A", Cause::Malformed, "reference"),
        ("$IIMWV,030,,5.0,N,A", Cause::Malformed, "reference"),
        ("$IIMWV,030,R,5.0,N,AB", Cause::Malformed, "status"),
        (
            "$IIMWV,030,R,5.0,N,A,9",
            Cause::Malformed,
            "number of fields",
        ),
        ("$IIVWR,181,R,5.0,N", Cause::OutOfRange, "angle"),
        ("$IIVWR,75,,5.0,N", Cause::Malformed, "side"),
        ("$IIVWR,75,R,10.0,N,10.0,M", Cause::Inconsistent, "speed"),
        ("$HCHDG,98.3,,,-7.1,W", Cause::OutOfRange, "variation"),
        ("$HCHDG,98.3,,,7.1,", Cause::Malformed, "variation"),
        ("$HCHDM,93.8,", Cause::Malformed, "heading"),
        ("$HCHDM,93.8,T", Cause::Malformed, "heading"),
        ("$GPHDT,1e2,T", Cause::Malformed, "heading"),
        ("$GPHDT,400.0,T", Cause::OutOfRange, "heading"),
        (
            "$IIVHW,,,9.-6,M,5.0,N,,",
            Cause::Malformed,
            "heading magnetic",
        ),
        ("$IIVHW,,,090,M,5.0,N,5.0,K", Cause::Inconsistent, "speed"),
        ("$IIVHW,,,090,M,500,N,,", Cause::OutOfRange, "speed"),
        (
            "$GPVTG,54.7,T,34.4,M,5.5,N,5.5,K",
            Cause::Inconsistent,
            "speed",
        ),
        (
            "$GPVTG,54.7,T,34.4,M,5.5",
            Cause::Malformed,
            "number of fields",
        ),
        (
            "$GPRMC,226016,A,5133.82,N,00042.24,W,5.0,231.8,130694,,",
            Cause::OutOfRange,
            "time",
        ),
        (
            "$GPRMC,220516,A,5133.82,N,00042.24,W,5.0,231.8,310294,,",
            Cause::OutOfRange,
            "date",
        ),
        (
            "$GPRMC,220516,A,5160.00,N,00042.24,W,5.0,231.8,130694,,",
            Cause::OutOfRange,
            "latitude",
        ),
        (
            "$GPRMC,220516,A,9133.82,N,00042.24,W,5.0,231.8,130694,,",
            Cause::OutOfRange,
            "latitude",
        ),
        (
            "$GPRMC,220516,A,5133.82,N,18100.00,W,5.0,231.8,130694,,",
            Cause::OutOfRange,
            "longitude",
        ),
        (
            "$GPRMC,220516,A,5133.82,E,00042.24,W,5.0,231.8,130694,,",
            Cause::Malformed,
            "latitude",
        ),
        (
            "$GPRMC,220516,A,5133.82,,00042.24,W,5.0,231.8,130694,,",
            Cause::Malformed,
            "latitude",
        ),
        (
            "$GPRMC,220516,A,-133.82,N,00042.24,W,5.0,231.8,130694,,",
            Cause::Malformed,
            "latitude",
        ),
        (
            "$GPRMC,220516,A,5133.82,N,042.24,W,5.0,231.8,130694,,",
            Cause::Malformed,
            "longitude",
        ),
        (
            "$GPRMC,220516,A,5133.82,N,,,5.0,231.8,130694,,",
            Cause::Malformed,
            "longitude",
        ),
        (
            "$GPGGA,220516,49nan,N,00042.24,W,1,08,,,M,,M,,",
            Cause::Malformed,
            "latitude",
        ),
        (
            "$GPGGA,220516,5133.82,N,00042.24,W,9,08,,,M,,M,,",
            Cause::Malformed,
            "quality",
        ),
        (
            "$GPGNS,220516,5133.82,N,00042.24,W,AX,08,,,,,",
            Cause::Malformed,
            "mode",
        ),
        ("$HEROT,99999,A", Cause::OutOfRange, "rate of turn"),
        ("$HEROT,12.0", Cause::Malformed, "number of fields"),
        ("$IIRSA,120,A,,V", Cause::OutOfRange, "first rudder"),
        ("$GPXTE,A,A,0.10,,N", Cause::Malformed, "off track"),
        ("$GPXTE,A,A,0.10,R,K", Cause::Malformed, "unit of distance"),
        (
            "$GPBOD,097.0,,103.2,M,B,A",
            Cause::Malformed,
            "whole sentence",
        ),
        (
            "$GPBWC,220516,5130.02,N,00046.34,W,413.8,T,218.0,M,4.6,N,X",
            Cause::OutOfRange,
            "bearing true",
        ),
        ("$GPRTE,0,1,c,0,A", Cause::OutOfRange, "number of sentences"),
        ("$GPRTE,1,2,c,0,A", Cause::Inconsistent, "sentence number"),
        ("$GPRTE,2,1,x,0,A", Cause::Malformed, "scope"),
        (
            "$AGHTC,A,5.5,L,H,T,6.5,2.0,0.5,1.5,180.1,0.25,190.5,",
            Cause::Malformed,
            "reference",
        ),
        ("$GPZDA,160012,32,03,2004,00,00", Cause::OutOfRange, "day"),
        ("$GPZDA,160012,30,02,2004,00,00", Cause::OutOfRange, "date"),
        ("$SDDPT,-1.0,0.0", Cause::OutOfRange, "depth"),
        ("$SDMTW,99,C", Cause::OutOfRange, "temperature"),
        ("$SDMTW,20.0,F", Cause::Malformed, "temperature"),
        ("$IIXDR,A,181,D,PITCH", Cause::OutOfRange, "pitch"),
        ("$IIXDR,A,x,D,ROLL", Cause::Malformed, "roll"),
        ("$IIXDR,D,31,M,HEAVE", Cause::OutOfRange, "heave"),
        ("$GPWPL,4917.16,N,12310.64,W,A^2", Cause::Malformed, "name"),
        (
            "$RATTM,07,0.5,361,T,,,T,,,N,,T",
            Cause::OutOfRange,
            "bearing",
        ),
        (
            "$RATTM,07,0.5,10,X,,,T,,,N,,T",
            Cause::Malformed,
            "bearing's reference",
        ),
        ("$RATTM,7.5,0.5,10,T,,,T,,,N,,T", Cause::Malformed, "number"),
        (
            "$RATLL,01,9131.5,N,02436.0,E,,,T",
            Cause::OutOfRange,
            "latitude",
        ),
        (
            "$AIMOB,1,Z,,1,,,4530.0,N,01200.0,E",
            Cause::Malformed,
            "status",
        ),
        (
            "$PSKWT,1,MARK,a,8930.0,N,01200.0,E",
            Cause::OutOfRange,
            "latitude",
        ),
        (
            "$PSKWT,1,MARK,a,,,,,E,100",
            Cause::Malformed,
            "how it is known",
        ),
        (
            "$PSKWT,1,MARK,a,4530.0,N,01200.0,E,E",
            Cause::Malformed,
            "how it is known",
        ),
        (
            "$PSKWT,1,MARK,a,4530.0,N,01200.0,E,T,,0",
            Cause::Malformed,
            "number of the mark",
        ),
        ("$PSKWT,1,UNMARK,", Cause::Malformed, "number of the mark"),
        ("$PSKWT,1,DRIFT,3,90", Cause::Malformed, "set and drift"),
        ("$PSKWT,1,DRIFT,3,90,6", Cause::OutOfRange, "drift"),
        ("$PSKWT,1,DANCE", Cause::Malformed, "word"),
        ("$PSKWT,x,BITE", Cause::Malformed, "sequence number"),
        (
            "$PSKWT,4294967296,BITE",
            Cause::OutOfRange,
            "sequence number",
        ),
        ("$PSKWT,1,LINES,,", Cause::Malformed, "line out"),
        ("$PSKWT,1,LINES,2001,", Cause::OutOfRange, "kite line"),
        ("$PSKWT,1,MOVED,X,3", Cause::Malformed, "line"),
        ("$PSKWT,1,MOVED,K,", Cause::Malformed, "metres moved"),
        ("$PSKWT,1,BAIT,F", Cause::Malformed, "bait state"),
        ("$PSKWT,1,TURN,40,-6,10", Cause::OutOfRange, "rate of turn"),
        ("$PSKWT,1,BITE,now", Cause::Malformed, "number of fields"),
        ("$PSKWT,1,STRIKE,", Cause::Malformed, "word of the strike"),
        (
            "$PSKWT,1,STRIKE,DANCE",
            Cause::Malformed,
            "word of the strike",
        ),
        (
            "$PSKWT,1,STRIKE,DOWN,1",
            Cause::Malformed,
            "number of fields",
        ),
        ("$PSKWT,1,STRIKE,FISH,", Cause::Malformed, "off the bow"),
        ("$PSKWT,1,STRIKE,FISH,181", Cause::OutOfRange, "off the bow"),
        ("$PSKWT,1,PLAN,X", Cause::Malformed, "answer"),
        ("$PSKWT,1,PLAN,D,,2,M,4", Cause::Malformed, "advisory id"),
        ("$PSKWT,1,PLAN,D,a-1,,M,4", Cause::Malformed, "revision"),
        ("$PSKWT,1,PLAN,D,a-1,2,,4", Cause::Malformed, "line"),
        ("$PSKWT,1,PLAN,D,a-1,2,M,", Cause::Malformed, "metres asked"),
        (
            "$PSKWT,1,PLAN,D,a-1,2,M,1001",
            Cause::OutOfRange,
            "metres asked",
        ),
        ("$PSKWT,1,ACK,", Cause::Malformed, "advisory id"),
        ("$PSKWT,1,ACK,a-1,X", Cause::Malformed, "priority"),
        ("$PSKWT,1,CORRECT,", Cause::Malformed, "what is corrected"),
        ("$PSKWT,1,CORRECT,A,,3", Cause::Malformed, "talker"),
        ("$PSKWT,1,CORRECT,A,WIND,3", Cause::Malformed, "talker"),
        ("$PSKWT,1,CORRECT,A,WI,", Cause::Malformed, "correction"),
        (
            "$PSKWT,1,CORRECT,A,WI,3,1,",
            Cause::Malformed,
            "number of fields",
        ),
        ("$PSKWT,1,CORRECT,S,WI,0.2", Cause::OutOfRange, "factor"),
        (
            "$PSKWT,1,CORRECT,C,HC,46,0,0",
            Cause::OutOfRange,
            "correction",
        ),
        (
            "$PSKWT,1,CORRECT,C,HC,4,0,",
            Cause::Malformed,
            "part with the cosine",
        ),
        ("$PSKWT,1,LAUNCH,X", Cause::Malformed, "launch"),
        ("$PSKWT,1,LAUNCH,B,7,9,3,60", Cause::Malformed, "kite line"),
        ("$PSKWT,1,LAUNCH,B,61,9,3,60,100", Cause::OutOfRange, "wind"),
        (
            "$PSKWT,1,LAUNCH,B,7,9,3,181,100",
            Cause::OutOfRange,
            "wind off the bow",
        ),
        ("$PSKWT,1,LAUNCH,S,100,,", Cause::OutOfRange, "steps"),
        ("$PSKWT,1,LAUNCH,S,1,1001,", Cause::OutOfRange, "kite line"),
        ("$PSKWT,1,LAUNCH,E,1", Cause::Malformed, "number of fields"),
        ("$PSKWT,0,BEFORE,,1,BITE", Cause::Malformed, "age"),
        ("$PSKWT,0,BEFORE,6e9,1,BITE", Cause::Malformed, "age"),
        (
            "$PSKWT,0,BEFORE,6000000000,1,BITE",
            Cause::OutOfRange,
            "age",
        ),
        (
            "$PSKWT,0,BEFORE,5,,BITE",
            Cause::Malformed,
            "whether it counts",
        ),
        ("$PSKWT,0,BEFORE,5,1,", Cause::Malformed, "word said before"),
        (
            "$PSKWT,0,BEFORE,5,1,UNDO,3",
            Cause::Malformed,
            "word said before",
        ),
        (
            "$PSKWT,0,BEFORE,5,1,BAIT,S",
            Cause::Malformed,
            "word said before",
        ),
        (
            "$PSKWT,0,BEFORE,5,1,BEFORE,5,1,BITE",
            Cause::Malformed,
            "word said before",
        ),
        (
            "$PSKWT,0,BEFORE,5,1,LINES,1001,",
            Cause::OutOfRange,
            "kite line",
        ),
        (
            "$PSKWT,0,BEFORE,5,1,BITE,now",
            Cause::Malformed,
            "number of fields",
        ),
    ];
    for (line, cause, field) in table {
        let reject = Decoder::new().decode(line).unwrap_err();
        assert_eq!(reject.cause(), cause, "{line}: {reject}");
        assert!(reject.to_string().contains(field), "{line}: {reject}");
    }
}

#[test]
fn what_is_not_ours_is_unsupported_and_what_is_no_sentence_is_garbled() {
    for (line, address) in [
        ("$GPGSV,3,1,11,03,03,111,00", "GPGSV"),
        ("$PGRME,15.0,M,45.0,M,25.0,M", "PGRME"),
        ("$STALK,84,06,00,00,00,00,00,00,00", "STALK"),
        ("$XXABC", "XXABC"),
        ("$GPGPQ,GGA", "GPGPQ"),
        ("$iimwv,030,R,5.0,N,A", "iimwv"),
    ] {
        assert_eq!(
            Decoder::new().decode(line),
            Err(DecodeReject::Unsupported {
                address: address.to_owned()
            })
        );
    }
    for line in [
        "",
        "$",
        "$,1,2",
        "GPHDT,274.07,T",
        "#GPHDT,274.07,T",
        "!AIVDM,1,1,,B,15N4cJ`005Jrek0H@9n`DW5608EP,0*13",
        "$GP-HDT,1,T",
        "$GPHDT,2\u{e9}4.07,T",
        "$GPHDT,2\x004.07,T",
    ] {
        let reject = Decoder::new().decode(line).unwrap_err();
        assert_eq!(reject.cause(), Cause::Garbled, "{line:?}: {reject}");
    }
}
