//! Published sentences: the good ones decode to what they say, the bad ones are refused.
//!
//! Sources, by the key beside each row:
//! - ESR: E. S. Raymond, *NMEA Revealed*, 12 July 2025 (`www/NMEA.adoc` of the gpsd project)
//! - GONMEA: source comments and tests of `adrianmo/go-nmea`, December 2024
//! - SWIFT: tests of `RISCfuture/SwiftNMEA`, August 2026; the bodies are theirs, the checksums ours
//! - BADD: G. Baddeley, *GPS - NMEA sentence information*
//! - VAIS: Vaisala user guide M210822EN-F, message MWV
//! - LIST: collected from published manuals and examples without a note of the page; every checksum
//!   recomputed
//!
//! Decoded values were worked out from the printed fields apart from the decoder (degrees =
//! whole degrees + minutes / 60; knots = 1852 m an hour).

use skimwatch::cause::Cause;
use skimwatch::decode::Decoder;
use skimwatch::feed::{Frame, FrameSettings, Framer, StreamEnd};

use crate::decode_words::words;

fn frames(line: &str) -> Vec<Frame> {
    let mut framer = Framer::new(FrameSettings::default());
    let mut frames = Vec::new();
    framer.push(line.as_bytes(), &mut |frame| frames.push(frame));
    framer.flush(StreamEnd::Whole, &mut |frame| frames.push(frame));
    frames
}

/// Through framer and decoder.
fn says(line: &str) -> String {
    match frames(line).as_slice() {
        [Frame::Sentence(sentence)] => match Decoder::new().decode(&sentence.text) {
            Ok(decoded) => words(&decoded.observations),
            Err(reject) => format!("refused: {reject}"),
        },
        other => format!("not one sentence: {other:?}"),
    }
}

#[test]
fn good_sentences_say_what_they_say() {
    #[rustfmt::skip]
    let table: &[(&str, &str, &str)] = &[
        // Wind. 0.1 km/h = 0.05400 kn, 1.3 m/s = 2.52700 kn, 1.0 m/s = 1.94384 kn.
        ("VAIS", "$WIMWV,214.8,R,0.1,K,A*28", "apparent 214.8 0.054kn"),
        ("ESR", "$WIMWV,041.1,R,01.0,N,A*16", "apparent 41.1 1kn"),
        ("GONMEA", "$WIMWV,12.1,T,10.1,N,A*27", "theoretical 12.1 10.1kn"),
        ("GONMEA", "$WIMWV,,T,,N,V*32", ""),
        ("LIST", "$WIMWV,39,R,1.3,M,A*06", "apparent 39 2.527kn"),
        ("LIST", "$WIMWV,61,R,1.0,M,A*08", "apparent 61 1.944kn"),
        ("LIST", "$WIMWV,39,R,0.5,M,A*01", "apparent 39 0.972kn"),
        ("LIST", "$WIMWV,59,R,1.2,M,A*01", "apparent 59 2.333kn"),
        ("ESR", "$WIMWD,302.4,T,289.6,M,10.5,N,5.4,M*6F", "wind from 302.4T 289.6M 10.5kn"),
        ("GONMEA", "$WIMWD,,,,,,,,*40", ""),
        ("GONMEA", "$IIVWR,75,R,1.0,N,0.51,M,1.85,K*6C", "apparent 75 1kn"),
        ("GONMEA", "$IIVWR,024,L,018,N,,,,*5e", "apparent 336 18kn"),
        ("GONMEA", "$IIVWR,,,,,,,,*53", ""),
        ("GONMEA", "$IIVWT,75,R,1.0,N,0.51,M,1.85,K*6A", "theoretical 75 1kn"),
        ("GONMEA", "$IIVWT,024,L,018,N,,,,*58", "theoretical 336 18kn"),
        // Heading.
        ("ESR", "$HCHDG,98.3,0.0,E,12.6,W*57", "compass 98.3 deviation 0 variation -12.6; variation -12.6"),
        ("ESR", "$HCHDG,101.1,,,7.1,W*3C", "compass 101.1 deviation - variation -7.1; variation -7.1"),
        ("GONMEA", "$IIHDG,,,,,*67", ""),
        ("LIST", "$HCHDM,093.8,M*2B", "heading 93.8M"),
        ("ESR", "$GPHDT,274.07,T*03", "heading 274.07T"),
        ("LIST", "$RCHDT,335.2,T*34", "heading 335.2T"),
        // Speed and course.
        ("GONMEA", "$VWVHW,45.0,T,43.0,M,3.5,N,6.4,K*56", "heading 45T; heading 43M; water 3.5kn -"),
        ("LIST", "$GPVHW,100.5,T,105.5,M,10.5,N,19.4,K*4F", "heading 100.5T; heading 105.5M; water 10.5kn -"),
        ("ESR", "$GPVTG,220.86,T,,M,2.550,N,4.724,K,A*34", "course 220.86T -M; ground 2.55kn"),
        ("ESR", "$GPVTG,360.0,T,348.7,M,000.0,N,000.0,K*43", "course 0T 348.7M; ground 0kn"),
        // Position.
        ("ESR", "$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B",
            "utc 2017-01-10 00:10:31; at 44.068999 -121.314337; ground 0.146kn"),
        ("BADD", "$GPRMC,220516,A,5133.82,N,00042.24,W,173.8,231.8,130694,004.2,W*70",
            "utc 1994-06-13 22:05:16; at 51.563667 -0.704; course 231.8T -M; ground 173.8kn; variation -4.2"),
        ("GONMEA", "$GNRMC,102014.00,A,5550.6082,N,03732.2488,E,000.00000,092.9,300518,,,A,V*3B",
            "utc 2018-05-30 10:20:14; at 55.84347 37.53748; course 92.9T -M; ground 0kn"),
        ("LIST", "$GPRMC,013248.00,A,3733.10101,N,07618.46766,W,0.233,24.51,041219,10.98,W,A*3E",
            "utc 2019-12-04 01:32:48; at 37.551684 -76.307794; course 24.51T -M; ground 0.233kn; variation -10.98"),
        ("ESR", "$GNGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M*47",
            "utc - 00:10:43; at 44.069006 -121.314327"),
        ("GONMEA", "$GNGGA,203415.000,6325.6138,N,01021.4290,E,1,8,2.42,72.5,M,41.5,M,,*7C",
            "utc - 20:34:15; at 63.426897 10.35715"),
        ("ESR", "$GNGLL,4404.14012,N,12118.85993,W,001037.00,A,A*67",
            "utc - 00:10:37; at 44.069002 -121.314332"),
        ("BADD", "$GPGLL,3751.65,S,14507.36,E*77", "at -37.860833 145.122667"),
        ("LIST", "$IIGLL,5924.462,N,01030.048,E,062216,A*38", "utc - 06:22:16; at 59.4077 10.5008"),
        // Turning and steering.
        ("ESR", "$HEROT,0.0,A*2B", "turning 0/min"),
        ("GONMEA", "$HEROT,-11.23,A*07", "turning -11.23/min"),
        ("ESR", "$IIRSA,10.5,A,,V*4D", "rudder 10.5"),
        ("GONMEA", "$IIRSA,10.5,A,0.4,A*70", "rudder 10.5"),
        ("GONMEA", "$FTHSC,40.12,T,39.11,M*5E", "steer 40.12T 39.11M"),
        ("SWIFT", "$AGHTC,A,5.5,L,R,T,6.5,2.0,0.5,1.5,180.1,0.25,190.5,M,R*7F",
            "command Some(Report): override yes rudder -5.5 Some(RudderControl) Some(Rate) \
             limits 6.5 2 0.25nmi radius 0.5nmi rate 1.5 heading 180.1M track 190.5M"),
        ("SWIFT", "$AGHTD,A,5.5,L,R,T,6.5,2.0,0.5,1.5,180.1,0.25,190.5,M,A,V,A,185.2*70",
            "state within yes no yes heading 185.2M: override yes rudder -5.5 Some(RudderControl) Some(Rate) \
             limits 6.5 2 0.25nmi radius 0.5nmi rate 1.5 heading 180.1M track 190.5M"),
        // Waypoints. Steer right: the track lies to starboard, positive.
        ("ESR, checksum recomputed", "$GPAPB,A,A,0.10,R,N,V,V,011,M,DEST,011,M,011,M*3C",
            "autopilot off 0.1nmi arrived no passed no leg 11M to DEST bearing 11M steer 11M"),
        ("ESR, checksum recomputed", "$GPRMB,A,0.66,L,003,004,4917.24,N,12309.57,W,001.3,052.5,000.5,V*20",
            "leg off -0.66nmi from 003 to 004 at 49.287333 -123.1595 range 1.3nmi bearing 52.5 closing 0.5kn arrived no"),
        ("BADD", "$GPRMB,A,4.08,L,EGLL,EGLM,5130.02,N,00046.34,W,004.6,213.9,122.9,A*3D",
            "leg off -4.08nmi from EGLL to EGLM at 51.500333 -0.772333 range 4.6nmi bearing 213.9 closing 122.9kn arrived yes"),
        ("ESR, body completed", "$GPBWC,081837,,,,,,T,,M,,N,*13", ""),
        ("BADD, checksum recomputed", "$GPBWC,220516,5130.02,N,00046.34,W,213.8,T,218.0,M,0004.6,N,EGLM*21",
            "waypoint EGLM at 51.500333 -0.772333 bearing 213.8T 218M distance 4.6nmi"),
        ("ESR, checksum recomputed", "$GPBOD,099.3,T,105.6,M,POINTB*64", "leg 99.3T 105.6M to POINTB from -"),
        ("ESR, checksum recomputed", "$GPBOD,097.0,T,103.2,M,POINTB,POINTA*4A", "leg 97T 103.2M to POINTB from POINTA"),
        ("LIST", "$GPBOD,001.1,T,003.4,M,WETERB,WOUBRG*49", "leg 1.1T 3.4M to WETERB from WOUBRG"),
        ("GONMEA", "$GPXTE,V,V,,,N,S*43", ""),
        ("GONMEA", "$GPXTE,A,A,4.07,L,N*6D", "off track -4.07nmi"),
        ("GONMEA", "$IIWPL,5503.4530,N,01037.2742,E,411*6F", "waypoint 411 at 55.05755 10.621237"),
        ("ESR", "$GPWPL,4917.16,N,12310.64,W,003*65", "waypoint 003 at 49.286 -123.177333"),
        // Targets: 170.5 degrees true at 1.43 miles, making 0.16 kn.
        ("ESR", "$RATTM,11,11.4,13.6,T,7.0,20.0,T,0.0,0.0,N,,Q,,154125.82,A,*17", ""),
        ("GONMEA", "$RATTM,02,1.43,170.5,T,0.16,264.4,T,1.42,36.9,N,,T,,,M*2A",
            "target 2 - 1.43nmi 170.5T moving 264.4 0.16kn"),
        ("GONMEA", "$RATLL,01,3731.51052,N,02436.00000,E,TEST1,161617.88,T,*0C",
            "target 1 TEST1 at 37.525175 24.6 moving -"),
        // Time and water.
        ("ESR", "$GPZDA,160012.71,11,03,2004,-1,00*7D", "utc 2004-03-11 16:00:12.710"),
        ("GONMEA", "$GPZDA,024611.08,25,03,2002,00,00*6A", "utc 2002-03-25 02:46:11.080"),
        ("ESR", "$INDPT,2.3,0.0*46", "depth 2.3m 0m"),
        ("GONMEA", "$SDDPT,0.5,0.5,*7B", "depth 0.5m 0.5m"),
        ("ESR", "$INMTW,17.9,C*1B", "water 17.9C"),
    ];
    for (source, line, wanted) in table {
        assert_eq!(says(line), *wanted, "{line} ({source})");
    }
}

/// Two published lines that make one route (BADD and GONMEA).
#[test]
fn a_route_is_put_together() {
    let mut decoder = Decoder::new();
    let first = decoder
        .decode("$GPRTE,2,1,c,0,PBRCPK,PBRTO,PTELGR,PPLAND,PYAMBU,PPFAIR,PWARRN,PMORTL,PLISMR*73")
        .unwrap();
    assert!(first.partial && first.observations.is_empty() && !first.is_void());
    let second = decoder
        .decode("$GPRTE,2,2,c,0,PCRESY,GRYRIE,GCORIO,GWERR,GWESTG,7FED*34")
        .unwrap();
    assert!(!second.partial);
    assert_eq!(
        words(&second.observations),
        "route 0 Complete PBRCPK PBRTO PTELGR PPLAND PYAMBU PPFAIR PWARRN PMORTL PLISMR \
         PCRESY GRYRIE GCORIO GWERR GWESTG 7FED"
    );
}

/// Published with a wrong checksum: the framer refuses them, whatever they say.
#[test]
fn wrong_checksums_are_refused() {
    let table = [
        (
            "ESR, BADD",
            "$GPAPB,A,A,0.10,R,N,V,V,011,M,DEST,011,M,011,M*82",
        ),
        (
            "ESR",
            "$GPRMB,A,0.66,L,003,004,4917.24,N,12309.57,W,001.3,052.5,000.5,V*0B",
        ),
        ("ESR", "$GPBOD,099.3,T,105.6,M,POINTB*01"),
        ("ESR, BADD", "$GPBOD,097.0,T,103.2,M,POINTB,POINTA*52"),
        ("ESR", "$GPBWC,081837,,,,,,T,,M,,N*13"),
        (
            "BADD",
            "$GPBWC,220516,5130.02,N,00046.34,W,213.8,T,218.0,M,0004.6,N,EGLM*11",
        ),
        ("BADD", "$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*41"),
        ("BADD", "$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K,A*53"),
        ("GONMEA", "$VRACN,220516,BPMP1,A,A,Bilge pump alarm1*43"),
        ("GONMEA", "$HCHBT,98.3,0.0,E,12.6,W*57"),
        ("GONMEA", "$HEROT,-11.23,A*FF"),
        ("GONMEA", "$SDDPT,0.5,0.5,*AA"),
    ];
    for (source, line) in table {
        let frames = frames(line);
        let [Frame::Rejected(rejection)] = frames.as_slice() else {
            panic!("{line} ({source}): {frames:?}");
        };
        assert_eq!(rejection.cause, Cause::BadChecksum, "{line} ({source})");
    }
}

/// Good checksum, bad content: refused, with the cause and the field.
#[test]
fn bad_content_is_refused() {
    let table = [
        // 12 kn is 6.17 m/s, not 40.
        (
            "GONMEA",
            "$WIMWD,10.1,T,10.1,M,12,N,40,M*5D",
            Cause::Inconsistent,
            "speed",
        ),
        (
            "GONMEA",
            "$IIVWT,75,x,1.0,N,0.51,M,1.85,K*40",
            Cause::Malformed,
            "side",
        ),
        (
            "GONMEA",
            "$HCHDG,98.3,0.1,E,12.6,X*59",
            Cause::Malformed,
            "variation",
        ),
        // The same characters in another order have the same checksum.
        (
            "GONMEA",
            "$VWVHW,T,45.0,43.0,M,3.5,N,6.4,K*56",
            Cause::Malformed,
            "heading true",
        ),
    ];
    for (source, line, cause, field) in table {
        let frames = frames(line);
        let [Frame::Sentence(sentence)] = frames.as_slice() else {
            panic!("{line} ({source}): {frames:?}");
        };
        let reject = Decoder::new().decode(&sentence.text).unwrap_err();
        assert_eq!(reject.cause(), cause, "{line} ({source})");
        assert!(reject.to_string().contains(field), "{line}: {reject}");
    }
    // Wants twelve fields and has eleven (ESR prints it so, with a wrong checksum on top).
    let reject = Decoder::new()
        .decode("$GPBWC,081837,,,,,,T,,M,,N")
        .unwrap_err();
    assert!(reject.to_string().contains("number of fields"), "{reject}");
}
