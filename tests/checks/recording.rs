//! Recordings: what goes in comes out; logs of other makes.

use proptest::prelude::*;
use skimwatch::cause::Cause;
use skimwatch::feed::{
    Checksum, ChecksumPolicy, FeedName, Frame, FrameSettings, Framer, RawSentence, StreamEnd, Tag,
    TagGroup,
};
use skimwatch::record::{LogItem, LogReader, recorded_line};
use skimwatch::time::Millis;

fn read(log: &[u8]) -> Vec<LogItem> {
    LogReader::new(log, FrameSettings::default())
        .collect::<Result<_, _>>()
        .unwrap()
}

fn arrived(bytes: &[u8]) -> Vec<RawSentence> {
    let mut framer = Framer::new(FrameSettings {
        checksum: ChecksumPolicy::IfPresent,
        ..FrameSettings::default()
    });
    let mut sentences = Vec::new();
    let mut keep = |frame| {
        if let Frame::Sentence(sentence) = frame {
            sentences.push(sentence);
        }
    };
    framer.push(bytes, &mut keep);
    framer.flush(StreamEnd::Whole, &mut keep);
    sentences
}

#[test]
fn a_recording_gives_back_what_arrived() {
    // Sentences from the published lists, ways of arriving our own.
    let live = arrived(
        b"$WIMWV,214.8,R,0.1,K,A*28\r\n$AGRSA,1.22,\r\n\
        \\s:satelite,c:1564827317*25\\$WIMWV,041.1,R,01.0,N,A*16\r\n\
        !AIVDM,1,1,,B,15N4cJ`005Jrek0H@9n`DW5608EP,0*13\r\n",
    );
    assert_eq!(live.len(), 4);
    assert_eq!(live[1].checksum, Checksum::Missing);
    let mut log = String::new();
    for (number, sentence) in (0..).zip(&live) {
        let feed = FeedName::new(["wind", "gps-2"][number as usize % 2]).unwrap();
        log += &recorded_line(Millis(1_700_000_000_000 + number), feed.as_str(), sentence);
    }
    let items = read(log.as_bytes());
    assert_eq!(items.len(), 4);
    for (number, (item, sentence)) in (0..).zip(items.iter().zip(&live)) {
        assert_eq!(item.time, Some(Millis(1_700_000_000_000 + number)));
        assert_eq!(
            item.feed.as_deref(),
            Some(["wind", "gps-2"][number as usize % 2])
        );
        assert_eq!(item.frame, Frame::Sentence(sentence.clone()));
    }
}

#[test]
fn the_mark_of_a_missing_checksum_counts_only_in_a_sound_block() {
    let cause = |log: &[u8]| match &read(log)[..] {
        [
            LogItem {
                frame: Frame::Rejected(rejection),
                ..
            },
        ] => Some(rejection.cause),
        _ => None,
    };
    assert_eq!(cause(b"$AGRSA,1.22,\r\n"), Some(Cause::MissingChecksum));
    let feed = FeedName::new("rudder").unwrap();
    let line = recorded_line(Millis(0), feed.as_str(), &arrived(b"$AGRSA,1.22,\r\n")[0]);
    assert_eq!(cause(line.as_bytes()), None);
    // On a live feed the mark means nothing: nobody may lift the input's own setting.
    let mut causes = Vec::new();
    Framer::new(FrameSettings::default()).push(line.as_bytes(), &mut |frame| {
        if let Frame::Rejected(rejection) = frame {
            causes.push(rejection.cause);
        }
    });
    assert_eq!(causes, [Cause::MissingChecksum]);
}

#[test]
fn times_of_other_logs() {
    let items = read(
        b"2014-08-01T00:00:00.183000Z $WIMWV,214.8,R,0.1,K,A*28\n\
        2014-08-01T00:00:01 $WIMWV,214.8,R,0.1,K,A*28\n\
        [12] $WIMWV,214.8,R,0.1,K,A*28\n\
        $WIMWV,214.8,R,0.1,K,A*28\n\
        \\s:Satelite_1,c:1553390539*62\\$WIMWV,214.8,R,0.1,K,A*28\n",
    );
    let times: Vec<_> = items.iter().map(|item| item.time.map(|t| t.0)).collect();
    // 2014-08-01T00:00:00Z is 1 406 851 200 s after 1970 (arithmetic from the definition).
    let expected = [
        Some(1_406_851_200_183),
        Some(1_406_851_201_000),
        None,
        None,
        Some(1_553_390_539_000),
    ];
    assert_eq!(times, expected);
    assert_eq!(items[4].feed.as_deref(), Some("Satelite_1"));
    // Time and name taken off, they are all the same sentence.
    assert!(items.iter().all(|item| item.frame == items[3].frame));
    assert!(items[..4].iter().all(|item| item.feed.is_none()));
}

#[test]
fn reads_in_small_pieces_and_reports_a_failing_disk() {
    struct Failing<'a>(&'a [u8]);
    impl std::io::Read for Failing<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            match self.0.split_first() {
                Some((first, rest)) => {
                    buffer[0] = *first;
                    self.0 = rest;
                    Ok(1)
                }
                None => Err(std::io::Error::other("disk gone")),
            }
        }
    }
    let log = Failing(b"$WIMWV,214.8,R,0.1,K,A*28\r\n$WIM");
    let items: Vec<_> = LogReader::new(log, FrameSettings::default()).collect();
    assert_eq!(items.len(), 2);
    assert!(items[0].is_ok() && items[1].is_err());
}

fn any_tag() -> impl Strategy<Value = Tag> {
    let word = || prop::option::of("[-A-Za-z0-9_ .:]{0,15}");
    let group = (any::<u32>(), any::<u32>(), any::<u64>())
        .prop_map(|(number, total, id)| TagGroup { number, total, id });
    (
        prop::option::of((0..=9_999_999_999_999_i64).prop_map(Millis)),
        word(),
        word(),
        prop::option::of(group),
        prop::option::of(any::<u64>()),
        word(),
    )
        .prop_map(|(time, source, destination, group, line, text)| Tag {
            time,
            source,
            destination,
            group,
            line,
            text,
        })
}

proptest! {
    #[test]
    fn any_accepted_sentence_comes_back(
        fields in "(,[-A-Za-z0-9. +\u{a1}-\u{ff}]{0,9}){1,8}",
        with_checksum in any::<bool>(),
        tag in prop::option::of(any_tag()),
        time in 0..4_000_000_000_000_i64,
        feed in "[A-Za-z0-9_-]{1,15}",
    ) {
        // One byte a character, as ISO 8859-1 talkers send them.
        let mut line: Vec<u8> = format!("IIXDR{fields}")
            .chars()
            .map(|c| u8::try_from(u32::from(c)).unwrap())
            .collect();
        let sum = line.iter().fold(0, |sum, b| sum ^ b);
        line.insert(0, b'$');
        if with_checksum {
            line.extend(format!("*{sum:02X}").bytes());
        }
        for mut sentence in arrived(&line) {
            sentence.tag = tag.clone();
            let feed = FeedName::new(&feed).unwrap();
            let log = recorded_line(Millis(time), feed.as_str(), &sentence);
            prop_assert!(log.is_ascii() && log.ends_with("\r\n"));
            let items = read(log.as_bytes());
            prop_assert_eq!(items.len(), 1);
            prop_assert_eq!(items[0].time, Some(Millis(time)));
            prop_assert_eq!(items[0].feed.as_deref(), Some(feed.as_str()));
            prop_assert_eq!(&items[0].frame, &Frame::Sentence(sentence));
        }
    }
}
