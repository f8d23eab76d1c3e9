use super::*;
use crate::decode::{BaitState, Line, SessionMark};
use crate::units::metres;
use crate::vessel::Deck;

const NONE: LinesOut = LinesOut {
    kite_m: None,
    main_m: None,
};

/// Long enough for any disk.
const DEADLINE: Duration = Duration::from_secs(20);

fn out(kite_m: f64, main_m: f64) -> CrewInput {
    CrewInput::LinesOut {
        kite: Some(metres(kite_m)),
        main: Some(metres(main_m)),
    }
}

fn begin(path: &Path) -> (Begun, watch::Receiver<JournalNow>) {
    let restart = RestartSettings::default();
    let journal = Journal::open(path.to_owned(), &restart, NONE, vec!["tablet".to_owned()]);
    let report = journal.report();
    (journal.begin(wall()), report)
}

/// Says something by the crew's feed; whether it came to the disk.
fn say(keeper: &Keeper, sequence: u32, input: &CrewInput) -> bool {
    let sentence = RawSentence::own(encode_crew(input, sequence));
    assert!(keeper.wants(&FeedName::crew(), &sentence));
    kept(keeper.append(wall(), &FeedName::crew(), &sentence))
}

fn kept(mut answer: oneshot::Receiver<bool>) -> bool {
    let end = Instant::now() + DEADLINE;
    loop {
        match answer.try_recv() {
            Ok(kept) => return kept,
            Err(oneshot::error::TryRecvError::Closed) => return false,
            Err(oneshot::error::TryRecvError::Empty) => {
                assert!(Instant::now() < end, "no answer");
                thread::sleep(Duration::from_millis(2));
            }
        }
    }
}

/// Main line out after a start with what is said anew.
fn main_m(anew: &[CrewInput]) -> Option<f64> {
    let mut deck = Deck::new(NONE);
    for input in anew {
        deck.observe(wall(), 0, input);
    }
    deck.now(wall()).lines.main_m
}

#[test]
fn what_was_answered_is_there_after_a_start_without_an_end() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made").join("deck.journal");
    let (begun, report) = begin(&path);
    assert_eq!((begun.anew.len(), begun.last_sequence), (0, 0));
    assert!(say(&begun.keeper, 1, &out(110.0, 132.0)));
    assert!(say(&begun.keeper, 2, &CrewInput::Bait(BaitState::Skipping)));
    assert_eq!(report.borrow().state, JournalState::Keeping);
    // Not ended: read as a crash leaves it.
    let (again, _) = begin(&path);
    assert_eq!(main_m(&again.anew), Some(132.0));
    assert_eq!(again.last_sequence, 2);
    again.keeper.finish();
    // The number goes on although nothing but the lines was kept.
    let (third, _) = begin(&path);
    assert_eq!(main_m(&third.anew), Some(132.0));
    assert_eq!(third.last_sequence, 2);
}

#[test]
fn a_line_cut_short_is_left_out_and_counted() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("deck.journal");
    let (begun, _) = begin(&path);
    say(&begun.keeper, 1, &out(110.0, 132.0));
    let whole = fs::read(&path).unwrap();
    say(&begun.keeper, 2, &out(11.0, 13.0));
    let longer = fs::read(&path).unwrap();
    begun.keeper.finish();
    for cut in [1, 10, 30, 45] {
        fs::write(&path, &longer[..whole.len() + cut]).unwrap();
        let (again, report) = begin(&path);
        assert_eq!(main_m(&again.anew), Some(132.0), "{cut}");
        let now = report.borrow().clone();
        assert_eq!((now.skipped_lines, now.set_aside), (1, None), "{cut}");
        again.keeper.finish();
    }
}

#[test]
fn a_damaged_file_is_kept_aside_and_what_can_be_read_counts() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("deck.journal");
    let (begun, _) = begin(&path);
    say(&begun.keeper, 1, &out(110.0, 132.0));
    begun.keeper.finish();
    let mut bytes = b"\\s:crew,c:17\xff\xff\xff\r\n".to_vec();
    bytes.extend(fs::read(&path).unwrap());
    for (bytes, main) in [(bytes, Some(132.0)), (vec![0xff; 5000], None)] {
        fs::write(&path, &bytes).unwrap();
        let (again, report) = begin(&path);
        assert_eq!(main_m(&again.anew), main);
        let aside = report.borrow().set_aside.clone().unwrap();
        assert_eq!(fs::read(aside).unwrap(), bytes);
        assert!(say(&again.keeper, 2, &CrewInput::Bite));
        again.keeper.finish();
    }
}

#[test]
fn a_recording_named_by_mistake_is_not_written_over() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("raw.nmea");
    let line = "\\s:wind,c:1700000000123*1E\\$WIMWV,214.8,R,0.1,K,A*28\r\n";
    fs::write(&path, line).unwrap();
    let (begun, report) = begin(&path);
    begun.keeper.finish();
    let aside = report.borrow().set_aside.clone().unwrap();
    assert_eq!(fs::read_to_string(aside).unwrap(), line);
}

#[test]
fn a_directory_that_cannot_be_written_is_told_and_tried_again() {
    let dir = tempfile::tempdir().unwrap();
    let in_the_way = dir.path().join("state");
    fs::write(&in_the_way, "a file where the directory should be").unwrap();
    let path = in_the_way.join("deck.journal");
    let (begun, mut report) = begin(&path);
    // It cannot even be read, which is not for want of it.
    assert_eq!(report.borrow_and_update().state, JournalState::Failing);
    assert!(!say(&begun.keeper, 1, &out(110.0, 132.0)));
    begun.keeper.finish();

    let path = dir.path().join("later").join("deck.journal");
    let (begun, report) = begin(&path);
    assert!(say(&begun.keeper, 1, &out(110.0, 132.0)));
    fs::remove_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path.parent().unwrap(), "in the way").unwrap();
    let mut writer = Writer {
        path: path.clone(),
        initial: NONE,
        entries: begun_with(&out(100.0, 120.0)),
        began: (wall(), Instant::now()),
        clock_noted: Instant::now(),
        open: None,
        unwritten: Vec::new(),
        retry_at: None,
        report: watch::Sender::new(report.borrow().clone()),
    };
    assert!(!writer.commit());
    let cause = writer.report.borrow().cause.clone().unwrap();
    assert!(cause.contains("set file in [restart]"), "{cause}");
    fs::remove_file(path.parent().unwrap()).unwrap();
    writer.retry_at = None;
    assert!(writer.commit());
    assert_eq!(writer.report.borrow().state, JournalState::Keeping);
    assert!(
        fs::read_to_string(&path)
            .unwrap()
            .contains(",LINES,100.00,120.00")
    );
}

fn begun_with(input: &CrewInput) -> Vec<Entry> {
    vec![Entry::own(wall(), encode_crew(input, 1))]
}

#[test]
fn only_the_crew_is_kept() {
    let (lines, _queue) = channel();
    let keeper = Keeper {
        crew_feeds: vec!["tablet".to_owned()],
        lines,
        thread: None,
    };
    let wants = |feed: &str, text: String| {
        keeper.wants(&FeedName::new(feed).unwrap(), &RawSentence::own(text))
    };
    let bite = |sequence| encode_crew(&CrewInput::Bite, sequence);
    assert!(wants("crew", bite(1)) && wants("tablet", bite(1)));
    assert!(
        !wants("wind", bite(1)),
        "nobody has said that it is the crew"
    );
    let start = CrewInput::Session(SessionMark::Start);
    assert!(!wants("crew", encode_crew(&start, 0)), "the program's own");
    assert!(wants("crew", encode_crew(&start, 1)) && wants("tablet", bite(0)));
    assert!(!wants("tablet", "$WIMWV,214.8,R,0.1,K,A*28".to_owned()));
}

#[test]
fn a_journal_that_has_grown_is_written_anew_with_what_still_counts() {
    let at = |s: f64| Millis(1_780_000_000_000).plus_seconds(s);
    let entry = |s, sequence, input: &CrewInput| Entry::own(at(s), encode_crew(input, sequence));
    let give = CrewInput::Moved {
        line: Line::Main,
        by: metres(1.0),
    };
    let mut entries = vec![entry(0.0, 1, &out(110.0, 100.0))];
    entries.extend((0..30).map(|n| entry(f64::from(n), n + 2, &give)));
    // Taken back, in time and too late; the last can still be.
    entries.push(entry(100.0, 40, &out(1.0, 2.0)));
    entries.push(entry(110.0, 41, &CrewInput::Undo { of: 40 }));
    entries.push(entry(120.0, 42, &give));
    entries.push(entry(150.0, 43, &CrewInput::Undo { of: 42 }));
    entries.push(entry(160.0, 44, &CrewInput::MarkerInWater(true)));
    let wall_then = at(161.0).plus_seconds(7200.0);
    entries.push(Entry::own(at(161.0), clock_sentence(wall_then)));
    entries.push(entry(190.0, 45, &give));
    let fresh = compacted(&entries, NONE, at(200.0));
    assert_eq!(fresh.len(), 5, "{fresh:#?}");

    let fold = |entries: &[Entry]| {
        let mut told = Told::new(NONE);
        let mut last = 0;
        for entry in entries {
            entry.tell(&mut told, &mut last);
        }
        let now = at(210.0).plus_seconds(7200.0);
        (told.anew(now, 1800.0), told.down_s(now), last)
    };
    assert_eq!(fold(&fresh), fold(&entries));
    assert_eq!(main_m(&fold(&fresh).0), Some(132.0));
    // And it can be taken back still.
    let undo = entry(201.0, 46, &CrewInput::Undo { of: 45 });
    let undone = [fresh, vec![undo]].concat();
    assert_eq!(main_m(&fold(&undone).0), Some(131.0));
}

#[test]
fn the_file_stays_small() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("deck.journal");
    let day_ago = Millis(wall().0 - 86_400_000);
    let give = CrewInput::Moved {
        line: Line::Main,
        by: metres(0.01),
    };
    let mut writer = Writer {
        entries: vec![Entry::own(day_ago, encode_crew(&out(100.0, 1.0), 1))],
        path: path.clone(),
        initial: NONE,
        began: (wall(), Instant::now()),
        clock_noted: Instant::now(),
        open: None,
        unwritten: Vec::new(),
        retry_at: None,
        report: watch::Sender::new(JournalNow::default()),
    };
    assert!(writer.commit());
    for sequence in 2..20_000 {
        writer.add(Entry::own(day_ago, encode_crew(&give, sequence)));
    }
    assert!(writer.unwritten.len() > LARGE_BYTES);
    assert!(writer.commit());
    assert!(fs::metadata(&path).unwrap().len() < 1000);
    assert!(
        fs::read_to_string(&path)
            .unwrap()
            .contains(",LINES,100.00,200.98")
    );
}

#[test]
fn the_clock_is_written_and_read() {
    let at = Millis(1_780_300_812_345);
    let text = clock_sentence(at);
    // 2026-06-01T08:00:12.345Z; checksum by own arithmetic of the same code, so only the form counts.
    assert!(
        text.starts_with("$ZQZDA,080012.345,01,06,2026,00,00*"),
        "{text}"
    );
    let mut told = Told::new(NONE);
    Entry::own(Millis(at.0 - 5000), text).tell(&mut told, &mut 0);
    let down_s = told.down_s(at.plus_seconds(3.0)).unwrap();
    assert!((down_s - 3.0).abs() < 1e-9);
}
