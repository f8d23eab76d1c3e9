//! Framing: what real networks send, published TAG blocks, properties, recorded logs.

use proptest::prelude::*;
use skimwatch::cause::Cause;
use skimwatch::feed::{
    Checksum, ChecksumPolicy, Frame, FrameSettings, Framer, RawSentence, SentenceKind, StreamEnd,
};
use skimwatch::time::Millis;

use Cause::{BadChecksum, BadTag, Garbled, MissingChecksum, TooLong};

fn settings(checksum: ChecksumPolicy) -> FrameSettings {
    FrameSettings {
        checksum,
        ..FrameSettings::default()
    }
}

fn frames_with(settings: FrameSettings, bytes: &[u8], end: StreamEnd) -> Vec<Frame> {
    let mut framer = Framer::new(settings);
    let mut frames = Vec::new();
    framer.push(bytes, &mut |frame| frames.push(frame));
    framer.flush(end, &mut |frame| frames.push(frame));
    frames
}

fn frames(bytes: &[u8]) -> Vec<Frame> {
    frames_with(FrameSettings::default(), bytes, StreamEnd::Whole)
}

fn sentences(frames: Vec<Frame>) -> Vec<RawSentence> {
    let keep = |frame| match frame {
        Frame::Sentence(sentence) => Some(sentence),
        Frame::Rejected(_) => None,
    };
    frames.into_iter().filter_map(keep).collect()
}

fn causes(frames: &[Frame]) -> Vec<Cause> {
    let cause = |frame: &Frame| match frame {
        Frame::Sentence(_) => None,
        Frame::Rejected(rejection) => Some(rejection.cause),
    };
    frames.iter().filter_map(cause).collect()
}

fn with_checksum(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, b| sum ^ b);
    format!("${body}*{sum:02X}")
}

/// What each stream gives: the accepted sentences and the causes of rejection, in order.
/// Sentences with a source come from the published lists; the rest are our own inventions, with
/// checksums computed by [`with_checksum`]'s rule.
#[test]
fn table_of_streams() {
    // $WIMWV,214.8,R,0.1,K,A*28 and $WIMWV,041.1,R,01.0,N,A*16: published good sentences
    // (E. S. Raymond, "NMEA Revealed", and go-nmea tests).
    let a = "$WIMWV,214.8,R,0.1,K,A*28";
    let b = "$WIMWV,041.1,R,01.0,N,A*16";
    let join = |parts: &[&str]| parts.concat().into_bytes();
    type Row<'a> = (&'a str, Vec<u8>, Vec<&'a str>, Vec<Cause>);
    let rows: Vec<Row> = vec![
        ("CRLF", join(&[a, "\r\n", b, "\r\n"]), vec![a, b], vec![]),
        ("LF", join(&[a, "\n", b, "\n"]), vec![a, b], vec![]),
        ("CR", join(&[a, "\r", b, "\r"]), vec![a, b], vec![]),
        ("mixed", join(&[a, "\n\r\r\n\n", b]), vec![a, b], vec![]),
        ("joined", join(&[a, b]), vec![a, b], vec![]),
        (
            "blanks",
            join(&["  ", a, "  \r\n\t", b]),
            vec![a, b],
            vec![],
        ),
        (
            "cut by the next",
            join(&["$GPRMC,045532,A,15.", a, "\r\n"]),
            vec![a],
            vec![Garbled],
        ),
        (
            "ran into another one's tail",
            join(&[a, ".8,K,A*2D\r\n", b]),
            vec![a, b],
            vec![Garbled],
        ),
        (
            // From the oddities of real logs: neither the first checksum nor the last is this
            // sentence's own.
            "ran into another one's tail, checksum wrong",
            join(&[
                "$GPGLL,3206.2864,N,03445.5883,E,110031,A,A*49.8,K,A*2D\r\n",
                b,
            ]),
            vec![b],
            vec![BadChecksum],
        ),
        (
            "start character again and again",
            join(&["$SDVLW,$SDVLW,,N,322.0,N,$SDVLW,,N*59\r\n", a]),
            vec![a],
            vec![Garbled, Garbled, BadChecksum],
        ),
        (
            "wrong start and banner",
            join(&["#ECAPB,A,A,0.001,L*11\r\nA\n-- restarted --\n", a]),
            vec![a],
            vec![Garbled, Garbled, Garbled],
        ),
        (
            "wrong checksum",
            join(&["$WIMWV,214.8,R,0.1,K,A*29\r\n", a]),
            vec![a],
            vec![BadChecksum],
        ),
        (
            "star and nothing",
            join(&["$WIMWV,36.8,R,8.3,N,A*\r\n", a]),
            vec![a],
            vec![BadChecksum],
        ),
        (
            "star and no hex",
            join(&["$WIMWV,36.8,R,8.3,N,A*zz\r\n", a]),
            vec![a],
            vec![BadChecksum],
        ),
        (
            "no checksum",
            join(&["$AGRSA,1.22,\r\n", a]),
            vec![a],
            vec![MissingChecksum],
        ),
        (
            "only a start",
            join(&["$\r\n$GPR\r\n$,1*1D\r\n", a]),
            vec![a],
            vec![Garbled, Garbled, Garbled],
        ),
        (
            "NULs outside",
            join(&["\0\0\0\0\r\n", a, "\0\0\r\n", b]),
            vec![a, b],
            vec![Garbled, Garbled],
        ),
        (
            "NUL inside",
            join(&["$WIMWV,21\x004.8,R,0.\x001,K,A*2\x008\r\n"]),
            vec![a],
            vec![],
        ),
        (
            // 0x01 twice cancels out of the checksum.
            "control characters, checksum good",
            join(&["$WIMWV,214\u{1}.8\u{1},R,0.1,K,A*28\r\n"]),
            vec![],
            vec![Garbled],
        ),
        (
            "8-bit noise before",
            [&b"\x93\xf2\xff"[..], a.as_bytes()].concat(),
            vec![a],
            vec![Garbled],
        ),
        (
            "8-bit noise inside",
            b"$WIMWV,21\xb4.8,R,0.1,K,A*28\r\n".to_vec(),
            vec![],
            vec![BadChecksum],
        ),
    ];
    for (name, bytes, good, bad) in rows {
        let frames = frames(&bytes);
        assert_eq!(causes(&frames), bad, "{name}: {frames:?}");
        let texts: Vec<_> = sentences(frames).into_iter().map(|s| s.text).collect();
        assert_eq!(texts, good, "{name}");
    }
}

#[test]
fn checksum_of_one_digit_and_in_lower_case() {
    // The XOR of this body is 0x0E (own arithmetic), which some talkers print without its zero.
    let body = "GPTXT,m";
    assert_eq!(with_checksum(body), "$GPTXT,m*0E");
    let short = format!("${body}*E\r\n");
    assert_eq!(sentences(frames(short.as_bytes())).len(), 1);
    let wrong = format!("${body}*F\r\n");
    assert_eq!(causes(&frames(wrong.as_bytes())), [BadChecksum]);
    // From the oddities of real logs: lower-case hex.
    let lower = sentences(frames(b"$IIDBT,,f,11.590,M,,F*2d\n"));
    assert_eq!(lower[0].text, "$IIDBT,,f,11.590,M,,F*2d");
    assert_eq!(lower[0].checksum, Checksum::Good);
}

#[test]
fn missing_checksum_is_a_matter_of_policy_and_habit() {
    let policy = settings(ChecksumPolicy::IfPresent);
    let stream = b"$AGRSA,1.22,\r\n$WIMWV,036.8,R,8.3,N,A\r\n$WIMWV,214.8,R,0.1,K,A*28\r\n\
        $WIMWV,036.8,R,8\r\n$AGRSA,1.20,\r\n";
    let frames = frames_with(policy, stream, StreamEnd::Whole);
    assert_eq!(causes(&frames), [MissingChecksum]);
    let found = sentences(frames);
    let addresses: Vec<_> = found.iter().map(RawSentence::address).collect();
    assert_eq!(addresses, ["AGRSA", "WIMWV", "WIMWV", "AGRSA"]);
    assert_eq!(found[3].checksum, Checksum::Missing);
    // A line that the connection cut is no line without a checksum, whatever the policy.
    let cut = frames_with(policy, b"$AGRSA,1.2", StreamEnd::Broken);
    assert_eq!(causes(&cut), [Garbled]);
    // Nor is one with a hole in it.
    let holed = frames_with(policy, b"$AGRSA,\x001.22,\r\n", StreamEnd::Whole);
    assert_eq!(causes(&holed), [Garbled]);
    // Nor is one that another sentence cut, or one with a wrong checksum.
    let cut = frames_with(policy, b"$AGRSA,1.2$AGRSA,1.22,*00\r\n", StreamEnd::Whole);
    assert_eq!(causes(&cut), [Garbled, BadChecksum]);
}

#[test]
fn eight_bit_names_are_escaped_and_check_again() {
    let mut line = b"$GPWPL,4917.24,N,12309.57,W,H\xf8rn".to_vec();
    let sum = line[1..].iter().fold(0, |sum, b| sum ^ b);
    line.extend(format!("*{sum:02X}\r\n").bytes());
    let found = sentences(frames(&line));
    assert_eq!(found[0].body(), "GPWPL,4917.24,N,12309.57,W,H^F8rn");
    let again = sentences(frames(found[0].text.as_bytes()));
    assert_eq!(again, found);
}

#[test]
fn long_lines_are_refused_once_and_the_next_is_read() {
    let limit = FrameSettings {
        max_line_bytes: 82,
        ..FrameSettings::default()
    };
    let fields = "1,".repeat(500);
    for start in ["$XXXDR,", "\\s:", "!AIVDM,"] {
        let stream = format!("{start}{fields}\r\n$WIMWV,214.8,R,0.1,K,A*28\r\n");
        let frames = frames_with(limit, stream.as_bytes(), StreamEnd::Whole);
        assert_eq!(causes(&frames), [TooLong], "{start}");
        assert_eq!(sentences(frames).len(), 1, "{start}");
    }
    let long = format!(
        "{}\r\n",
        with_checksum(&format!("IIXDR,{}", "1,".repeat(400)))
    );
    assert_eq!(sentences(frames(long.as_bytes())).len(), 1, "within 1024");
}

#[test]
fn tag_blocks_published_and_damaged() {
    // E. S. Raymond, "AIVDM/AIVDO protocol decoding": both checksums good.
    let line = b"\\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A\\\
        !AIVDM,1,1,,B,15N4cJ`005Jrek0H@9n`DW5608EP,0*13\r\n";
    let found = sentences(frames(line));
    assert_eq!(found[0].kind, SentenceKind::Encapsulated);
    let tag = found[0].tag.as_ref().unwrap();
    assert_eq!(tag.time, Some(Millis(1_241_544_035_000)));
    assert_eq!(tag.source.as_deref(), Some("r003669945"));
    assert_eq!(found[0].outer_tag, None);

    // go-nmea tagblock_test: *25 is right, *49 wrong. The sentence stands either way.
    let line = b"\\s:satelite,c:1564827317*49\\$WIMWV,214.8,R,0.1,K,A*28\r\n";
    let damaged = frames(line);
    assert_eq!(causes(&damaged), [BadTag]);
    let found = sentences(damaged);
    assert_eq!((found.len(), &found[0].tag), (1, &None));

    // Two blocks: the inner is the sentence's own, the outer that of who passed it on.
    let line = b"\\s:satelite,c:1564827317*25\\\\s:Satelite_1,c:1553390539*62\\\
        $WIMWV,214.8,R,0.1,K,A*28\r\n";
    let found = sentences(frames(line));
    let source = |tag: &Option<skimwatch::feed::Tag>| tag.as_ref().unwrap().source.clone();
    assert_eq!(source(&found[0].tag).as_deref(), Some("Satelite_1"));
    assert_eq!(source(&found[0].outer_tag).as_deref(), Some("satelite"));

    // Of three, the first and the last count; a damaged one takes no other with it.
    let line = b"\\s:satelite,c:1564827317*25\\\\s:x*00\\\\s:Satelite_1,c:1553390539*62\\\\s:\\\
        $WIMWV,214.8,R,0.1,K,A*28\r\n";
    let three = frames(line);
    assert_eq!(causes(&three), [BadTag, BadTag]);
    let found = sentences(three);
    assert_eq!(source(&found[0].tag).as_deref(), Some("Satelite_1"));
    assert_eq!(source(&found[0].outer_tag).as_deref(), Some("satelite"));
    let line = b"\\s:satelite,c:1564827317*25\\\
        \\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A\\\
        \\s:Satelite_1,c:1553390539*62\\$WIMWV,214.8,R,0.1,K,A*28\r\n";
    let found = sentences(frames(line));
    assert_eq!(source(&found[0].tag).as_deref(), Some("Satelite_1"));
    assert_eq!(source(&found[0].outer_tag).as_deref(), Some("satelite"));

    // Blocks with no sentence, unfinished, or with noise behind them.
    for (line, expected) in [
        (&b"\\s:satelite,c:1564827317*25\\\r\n"[..], vec![BadTag]),
        (b"\\s:satelite,c:15648\r\n", vec![BadTag]),
        (
            b"\\s:satelite,c:1564827317*25\\xyz\r\n",
            vec![BadTag, Garbled],
        ),
    ] {
        assert_eq!(causes(&frames(line)), expected);
    }
}

#[test]
fn datagram_header_and_several_sentences() {
    let datagram = b"UdPbC\0\\s:satelite,c:1564827317*25\\$WIMWV,214.8,R,0.1,K,A*28\r\n\
        \\s:Satelite_1,c:1553390539*62\\$WIMWV,041.1,R,01.0,N,A*16\r\n";
    let all = frames(datagram);
    assert_eq!(causes(&all), []);
    let found = sentences(all);
    assert_eq!(found.len(), 2);
    assert!(found.iter().all(|s| s.tag.is_some() && s.prefix.is_none()));
}

#[test]
fn logger_prefix_is_handed_on() {
    let found = sentences(frames(
        b"2014-08-01T00:00:00.183000Z $WIMWV,214.8,R,0.1,K,A*28\n\
        $WIMWV,214.8,R,0.1,K,A*28\n",
    ));
    let prefixes: Vec<_> = found.iter().map(|s| s.prefix.as_deref()).collect();
    assert_eq!(prefixes, [Some("2014-08-01T00:00:00.183000Z"), None]);
    // In the middle of a line it is what is left of a cut one.
    let middle = frames(b"$WIMWV,214.8,R,0.1,K,A*28 2.1,N $WIMWV,214.8,R,0.1,K,A*28\n");
    assert_eq!(causes(&middle), [Garbled]);
    assert!(sentences(middle).iter().all(|s| s.prefix.is_none()));
}

fn any_policy() -> impl Strategy<Value = FrameSettings> {
    (any::<bool>(), 82_usize..400).prop_map(|(required, max_line_bytes)| FrameSettings {
        checksum: if required {
            ChecksumPolicy::Required
        } else {
            ChecksumPolicy::IfPresent
        },
        max_line_bytes,
    })
}

/// Bytes rich in what the framer reacts to.
fn busy_bytes() -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![
        4 => prop::sample::select(b"$!\\*,\r\n\0 ^:sc0AF".to_vec()),
        2 => 0x20_u8..0x7f,
        1 => any::<u8>(),
    ];
    prop::collection::vec(byte, 0..600)
}

/// A line with sound checksums and any printable, unreserved content.
fn good_sentence() -> impl Strategy<Value = String> {
    ("[A-Z0-9]{3,6}", "(,[-A-Za-z0-9. +]{0,9}){1,8}")
        .prop_map(|(address, fields)| with_checksum(&format!("{address}{fields}")))
}

/// Sound and damaged sentences, TAG blocks and noise, one behind the other.
fn busy_stream() -> impl Strategy<Value = Vec<u8>> {
    let good = || good_sentence().prop_map(String::into_bytes);
    let damaged = (good(), any::<prop::sample::Index>(), busy_bytes());
    let piece = prop_oneof![
        4 => good(),
        1 => good().prop_map(|line| line.to_ascii_lowercase()),
        1 => Just(with_checksum("GPTXT,*").into_bytes()),
        2 => damaged.prop_map(|(mut line, at, noise)| {
            let at = at.index(line.len());
            line.splice(at..=at, noise.into_iter().take(2));
            line
        }),
        1 => Just(br"\s:a,c:1241544035*2A\".to_vec()),
        1 => busy_bytes().prop_map(|bytes| bytes.into_iter().take(9).collect()),
        3 => prop::sample::select(vec![b"\r\n".to_vec(), b"\n".to_vec(), b" ".to_vec()]),
    ];
    prop::collection::vec(piece, 0..12).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn whole_sentences_and_single_bytes_give_the_same(
        policy in any_policy(),
        bytes in busy_stream(),
    ) {
        let mut framer = Framer::new(policy);
        let mut single = Vec::new();
        for byte in &bytes {
            framer.push(std::slice::from_ref(byte), &mut |frame| single.push(frame));
        }
        framer.flush(StreamEnd::Whole, &mut |frame| single.push(frame));
        prop_assert_eq!(frames_with(policy, &bytes, StreamEnd::Whole), single);
    }

    #[test]
    fn arbitrary_bytes_give_sound_frames(policy in any_policy(), bytes in busy_bytes()) {
        for frame in frames_with(policy, &bytes, StreamEnd::Broken) {
            if let Frame::Sentence(sentence) = frame {
                prop_assert!(sentence.text.len() <= policy.max_line_bytes);
                prop_assert!(sentence.text.bytes().all(|b| (0x20..0x7f).contains(&b)));
                prop_assert!(!sentence.address().is_empty());
                if sentence.checksum == Checksum::Good {
                    let again = sentences(frames(sentence.text.as_bytes()));
                    prop_assert_eq!(&again[0].text, &sentence.text);
                } else {
                    prop_assert!(!sentence.text.contains('*'));
                    prop_assert_eq!(policy.checksum, ChecksumPolicy::IfPresent);
                }
            }
        }
    }

    #[test]
    fn the_split_of_the_stream_does_not_matter(
        policy in any_policy(),
        bytes in busy_bytes(),
        cuts in prop::collection::vec(any::<prop::sample::Index>(), 0..12),
    ) {
        let whole = frames_with(policy, &bytes, StreamEnd::Whole);
        let mut at: Vec<usize> = cuts.iter().map(|cut| cut.index(bytes.len() + 1)).collect();
        at.extend([0, bytes.len()]);
        at.sort_unstable();
        let mut framer = Framer::new(policy);
        let mut pieces = Vec::new();
        for pair in at.windows(2) {
            framer.push(&bytes[pair[0]..pair[1]], &mut |frame| pieces.push(frame));
        }
        framer.flush(StreamEnd::Whole, &mut |frame| pieces.push(frame));
        prop_assert_eq!(whole, pieces);
    }

    #[test]
    fn a_good_sentence_is_found_in_garbage(
        before in prop::collection::vec(any::<u8>(), 0..300),
        sentence in good_sentence(),
        after in prop::collection::vec(any::<u8>(), 0..300),
    ) {
        let clean = |bytes: Vec<u8>| -> Vec<u8> {
            bytes.into_iter().filter(|b| !b"$!\\".contains(b)).collect()
        };
        let stream = [clean(before), sentence.clone().into_bytes(), clean(after)].concat();
        let found = sentences(frames(&stream));
        prop_assert_eq!(found.len(), 1);
        prop_assert_eq!(&found[0].text, &sentence);
    }

    #[test]
    fn lines_survive_any_separator(
        lines in prop::collection::vec(good_sentence(), 1..20),
        separator in prop::sample::select(vec!["\r\n", "\n", "\r", "", "\r\r\n", " \r\n"]),
    ) {
        let all = frames(lines.join(separator).as_bytes());
        prop_assert_eq!(causes(&all), vec![]);
        let texts: Vec<_> = sentences(all).into_iter().map(|s| s.text).collect();
        prop_assert_eq!(texts, lines);
    }
}
