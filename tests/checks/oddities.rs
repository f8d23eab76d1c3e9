//! Eighteen oddities that were found in recorded logs, one row each, through framer and decoder. Every line here is invented after the recorded kind; none
//! is taken from a recording.

use skimwatch::decode::{DecodeReject, Decoder};
use skimwatch::feed::{ChecksumPolicy, Frame, FrameSettings, Framer, SentenceKind, StreamEnd};

use crate::decode_words::words;

/// A body with the checksum that holds for it.
fn sealed(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}")
}

/// The same as a line.
fn line(body: &str) -> String {
    sealed(body) + "\r\n"
}

/// What a stream ends in, frame by frame.
fn outcomes(bytes: &[u8]) -> Vec<String> {
    let mut framer = Framer::new(FrameSettings {
        checksum: ChecksumPolicy::Required,
        ..FrameSettings::default()
    });
    let mut frames = Vec::new();
    framer.push(bytes, &mut |frame| frames.push(frame));
    framer.flush(StreamEnd::Whole, &mut |frame| frames.push(frame));
    let mut decoder = Decoder::new();
    let outcome = |frame| match frame {
        Frame::Rejected(rejection) => format!("frame {:?}", rejection.cause),
        Frame::Sentence(s) if s.kind == SentenceKind::Encapsulated => "encapsulated".to_owned(),
        Frame::Sentence(s) => match decoder.decode(&s.text) {
            Ok(decoded) if decoded.is_void() => format!("void {}", decoded.kind),
            Ok(decoded) => words(&decoded.observations),
            Err(DecodeReject::Unsupported { address }) => format!("unsupported {address}"),
            Err(reject) => format!("refused {}", reject.cause()),
        },
    };
    frames.into_iter().map(outcome).collect()
}

struct Row {
    number: u32,
    what: &'static str,
    stream: Vec<u8>,
    gives: &'static [&'static str],
}

fn row(
    number: u32,
    what: &'static str,
    stream: impl Into<Vec<u8>>,
    gives: &'static [&'static str],
) -> Row {
    Row {
        number,
        what,
        stream: stream.into(),
        gives,
    }
}

#[test]
fn every_oddity_has_its_outcome() {
    let tag = |body: &str| {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("\\{body}*{sum:02X}\\")
    };
    let rows = [
        row(
            1,
            "two streams mangled into one line whose checksum holds: too few fields, an address \
             made of two, and one that cannot be told from a good sentence of another talker",
            line("GPRMB,A,2.0091.4,N,A")
                + &line("GPRMW,,,061,M,04.2,N,,")
                + &line("GIMWV,031,R,17.2,N,A"),
            &[
                "refused malformed",
                "unsupported GPRMW",
                "apparent 31 17.2kn",
            ],
        ),
        row(
            2,
            "one sentence run into the tail of another",
            "$GPGLL,1000.5000,N,02000.5000,E,101010,A,A*41.2,K,A*2D\r\n",
            &["frame BadChecksum"],
        ),
        row(
            3,
            "a start character inside a line: what it cuts off is lost, what it starts is judged",
            format!("$SDVLW,$SDVLW,,N,101.0,N,{}\r\n", sealed("HCHDM,093.8,M")),
            &["frame Garbled", "frame Garbled", "heading 93.8M"],
        ),
        row(
            4,
            "checksum missing or cut",
            "$AGRSA,1.31,\r\n$WIMWV,41.2,R,7.9,N,A*\r\n",
            &["frame MissingChecksum", "frame BadChecksum"],
        ),
        row(
            5,
            "checksum of one digit, in lower case",
            "$SDMTW,26.5,C*5\r\n$SDMTW,0.8,C*3c\r\n",
            &["water 26.5C", "water 0.8C"],
        ),
        row(
            6,
            "NULs, 8-bit noise, control characters inside a number",
            [
                b"\0\0\0\xff\xfe\x80\r\n".to_vec(),
                line("HCHDM,093.8,M")
                    .replace("093", "0\x009\x003")
                    .into_bytes(),
                line("HCHDM,09\x073.8,M").into_bytes(),
            ]
            .concat(),
            &["frame Garbled", "heading 93.8M", "frame Garbled"],
        ),
        row(
            7,
            "empty but valid",
            line("IIHDT,,T")
                + &line("GPAPB,,,,,,,,,,,,,,,N")
                + &line("IIMWV,,R,,N,V")
                + &line("IIMWD,,,047.,M,16.0,N,08.2,M"),
            &["void HDT", "void APB", "void MWV", "wind from -T 47M 16kn"],
        ),
        row(
            8,
            "field counts of several editions; a wind sentence without the status field it has had \
             in every edition is refused, for a missing status is not a valid one; digits pass as \
             a talker",
            line("GPRMC,101010,A,1000.50,N,02000.50,E,5.0,90.0,010125,,")
                + &line("GPRMC,101011,A,1000.50,N,02000.50,E,5.0,90.0,010125,,,A")
                + &line("GPRMC,101012,A,1000.50,N,02000.50,E,5.0,90.0,010125,,,A,V")
                + &line("GPRMB,A,0.10,R,,HOME,,,,,1.2,90,5.0,V")
                + &line("GPRMB,A,0.10,R,,HOME,,,,,1.2,90,5.0,V,A")
                + &line("02MWV,301.5,R,1.77,N")
                + &line("02MWV,301.5,R,1.77,N,A"),
            &[
                "utc 2025-01-01 10:10:10; at 10.008333 20.008333; course 90T -M; ground 5kn",
                "utc 2025-01-01 10:10:11; at 10.008333 20.008333; course 90T -M; ground 5kn",
                "utc 2025-01-01 10:10:12; at 10.008333 20.008333; course 90T -M; ground 5kn",
                "leg off 0.1nmi from - to HOME at - range 1.2nmi bearing 90 closing 5kn arrived no",
                "leg off 0.1nmi from - to HOME at - range 1.2nmi bearing 90 closing 5kn arrived no",
                "refused malformed",
                "apparent 301.5 1.77kn",
            ],
        ),
        row(
            9,
            "loose numbers pass, broken ones do not although their checksum holds",
            line("HCHDM,176.,M")
                + &line("IIMTW,+26.5,C")
                + &line("HEROT,-0.00,A")
                + &line("HEROT,-1.-3,A")
                + &line("HEROT,0.-6,A"),
            &[
                "heading 176M",
                "water 26.5C",
                "turning 0/min",
                "refused malformed",
                "refused malformed",
            ],
        ),
        row(
            10,
            "time and date: empty, twenty years early, frozen, stepping back. The sender's clock is \
             handed on as it is: it is data and stamps nothing",
            line("GPZDA,,,,,00,")
                + &line("GPZDA,101010,16,05,2005,00,00")
                + &line("GPGLL,1000.50,N,02000.50,E,101010,A,A")
                + &line("GPGLL,1000.51,N,02000.50,E,101010,A,A")
                + &line("GPGLL,1000.52,N,02000.50,E,101008,A,A"),
            &[
                "void ZDA",
                "utc 2005-05-16 10:10:10",
                "utc - 10:10:10; at 10.008333 20.008333",
                "utc - 10:10:10; at 10.0085 20.008333",
                "utc - 10:10:08; at 10.008667 20.008333",
            ],
        ),
        row(
            11,
            "two sensors under one address: each is decoded as it is, with and without variation",
            line("HCHDG,205.48,,,0.55,E") + &line("HCHDG,207.00,,,,"),
            &[
                "compass 205.48 deviation - variation 0.55; variation 0.55",
                "compass 207 deviation - variation -",
            ],
        ),
        row(
            12,
            "apparent wind of no speed with a good angle: a legal value, which whoever weighs the \
             sources must distrust",
            line("WIMWV,283.1,R,0.0,N,A"),
            &["apparent 283.1 0kn"],
        ),
        row(
            13,
            "proprietary sentences and marker lines before each sentence",
            line("PXYZCN,12,ab") + "---- 7 ----\r\n" + &line("HCHDM,093.8,M"),
            &["unsupported PXYZCN", "frame Garbled", "heading 93.8M"],
        ),
        row(
            14,
            "wrong start character, banner text",
            sealed("ECAPB,A,A,0.001,R,N").replace('$', "#") + "\r\nWelcome aboard v1.0\r\n",
            &["frame Garbled", "frame Garbled"],
        ),
        row(
            15,
            "padded names",
            line("IIRMB,A,0.00,L,,BUOYAA  ,,,,,1.2,90,,V,A"),
            &["leg off 0nmi from - to BUOYAA at - range 1.2nmi bearing 90 closing - arrived no"],
        ),
        row(
            16,
            "more than 80 characters",
            line(&format!("IIXDR{}", ",A,1.0,D,PTCH".repeat(9)))
                + &sealed("AIVDM,1,1,,B,000,0").replace('$', "!")
                + "\r\n",
            &["hull heave - pitch 1deg roll -", "encapsulated"],
        ),
        row(
            17,
            "several sentences in one datagram, a TAG block before each",
            [
                b"UdPbC\0".to_vec(),
                format!(
                    "{}{}{}{}",
                    tag("s:II0001,c:1700000000"),
                    line("HCHDM,093.8,M"),
                    tag("s:II0001,c:1700000001"),
                    line("HEROT,12.0,A")
                )
                .into_bytes(),
            ]
            .concat(),
            &["heading 93.8M", "turning 12/min"],
        ),
        row(
            18,
            "CRLF, LF and CR in one stream",
            sealed("HCHDM,001,M")
                + "\r\n"
                + &sealed("HCHDM,002,M")
                + "\n"
                + &sealed("HCHDM,003,M")
                + "\r"
                + &line("HCHDM,004,M"),
            &["heading 1M", "heading 2M", "heading 3M", "heading 4M"],
        ),
    ];
    for (row, number) in rows.iter().zip(1..) {
        assert_eq!(row.number, number);
        assert_eq!(
            outcomes(&row.stream),
            row.gives,
            "{}: {}",
            row.number,
            row.what
        );
    }
    assert_eq!(rows.len(), 18);
}
