//! The writer on real directories, without its thread.

use std::fs::{File, OpenOptions};
use std::path::Path;

use tokio::sync::oneshot;

use super::*;
use crate::record::names::recordings;

const MIB: u64 = 1024 * 1024;

fn writer(dir: &Path) -> Writer {
    let settings = RecordSettings::new(dir.to_owned(), 1, 3).unwrap();
    Writer::new(settings, watch::Sender::default())
}

fn line(number: i64) -> Line {
    Line {
        time: Millis(1_700_000_000_000 + number),
        text: format!("{number:098}\r\n"),
        must_stay: false,
        reply: None,
    }
}

/// A line that must stay, and what its sender hears.
fn durable(number: i64) -> (Line, oneshot::Receiver<KeptIn>) {
    let (reply, answer) = oneshot::channel();
    let line = Line {
        must_stay: true,
        reply: Some(reply),
        ..line(number)
    };
    (line, answer)
}

/// All that is recorded, oldest first.
fn recorded(dir: &Path) -> String {
    recordings(dir)
        .unwrap()
        .iter()
        .map(|file| fs::read_to_string(&file.path).unwrap())
        .collect()
}

fn texts(numbers: impl IntoIterator<Item = i64>) -> String {
    numbers
        .into_iter()
        .map(|number| line(number).text)
        .collect()
}

fn report(writer: &Writer) -> RecordReport {
    writer.report.borrow().clone()
}

fn cause(writer: &Writer) -> String {
    match report(writer).state {
        RecordState::Failing { cause, .. } => cause,
        other => panic!("{other:?}"),
    }
}

#[test]
fn rotates_within_both_caps_and_keeps_the_newest() {
    let dir = tempfile::tempdir().unwrap();
    let foreign = dir.path().join("notes.txt");
    fs::write(&foreign, "kept").unwrap();
    let mut writer = writer(dir.path());
    let count = 60_000;
    for number in 0..count {
        writer.write(line(number));
    }
    writer.end();
    let files = recordings(dir.path()).unwrap();
    assert!(files.iter().all(|file| file.bytes <= MIB));
    let total: u64 = files.iter().map(|file| file.bytes).sum();
    assert!(total <= 3 * MIB && total > MIB, "{total}");
    let text = fs::read_to_string(&files.last().unwrap().path).unwrap();
    assert!(text.ends_with(&line(count - 1).text));
    let report = report(&writer);
    assert_eq!((report.lines, report.lost), (count as u64, 0));
    assert!(report.deleted_files > 0);
    assert!(foreign.exists());
}

#[test]
fn a_place_that_cannot_be_written_is_reported_and_retried() {
    let dir = tempfile::tempdir().unwrap();
    let place = dir.path().join("records");
    fs::write(&place, "a file in the way").unwrap();
    let mut writer = writer(&place);
    for number in 0..10 {
        writer.write(line(number));
    }
    let (crew, mut answer) = durable(10);
    writer.write(crew);
    assert_eq!(answer.try_recv(), Ok(KeptIn::Memory));
    let before = report(&writer);
    assert_eq!((before.lines, before.lost, before.waiting), (0, 10, 1));
    let RecordState::Failing { cause, since } = before.state else {
        panic!("{before:?}");
    };
    assert!(cause.contains("records"), "{cause}");
    assert_eq!(since, line(0).time);

    // What must stay is written as soon as that is possible, though nothing else comes.
    fs::remove_file(&place).unwrap();
    writer.settle_if_due();
    assert_eq!(report(&writer).waiting, 1);
    writer.retry_at = Some(Instant::now());
    writer.settle_if_due();
    let after = report(&writer);
    assert_eq!((after.lines, after.lost, after.waiting), (1, 10, 0));
    assert!(matches!(after.state, RecordState::Recording { since, .. } if since == line(10).time));
    writer.write(line(11));
    writer.end();
    assert_eq!(recorded(&place), texts([10, 11]));
}

#[test]
fn a_full_disk_costs_the_unwritten_lines_and_says_so() {
    let dir = tempfile::tempdir().unwrap();
    let mut writer = writer(dir.path());
    // The system's stand-in for a full disk: every write to it fails so.
    let full = OpenOptions::new().write(true).open("/dev/full").unwrap();
    writer.open = Some(OpenFile::of("/dev/full".into(), full, Millis(0)));
    for number in 0..3 {
        writer.write(line(number));
    }
    let (crew, mut answer) = durable(3);
    writer.write(crew);
    writer.settle_if_due();
    // It cannot be told whether the line is in such a file.
    assert!(answer.try_recv().is_err());
    // Until the next attempt is due, lines are lost at once.
    writer.write(line(4));
    let now = report(&writer);
    assert_eq!((now.lines, now.lost), (0, 5));
    let cause = cause(&writer);
    assert!(cause.contains("is full: make room"), "{cause}");
    assert_eq!(writer.retry_pause, 2 * FIRST_RETRY);
}

#[test]
fn a_disk_that_stays_full_is_not_called_recording_in_between() {
    let dir = tempfile::tempdir().unwrap();
    let mut writer = writer(dir.path());
    for number in 0..2 {
        let full = OpenOptions::new().write(true).open("/dev/full").unwrap();
        writer.open = Some(OpenFile::of("/dev/full".into(), full, Millis(0)));
        writer.write(line(number));
        if number > 0 {
            assert!(matches!(report(&writer).state, RecordState::Failing { .. }));
        }
        writer.settle(false);
    }
    let RecordState::Failing { since, .. } = report(&writer).state else {
        panic!("{:?}", report(&writer));
    };
    assert_eq!(since, line(0).time);
}

#[test]
fn retrying_leaves_no_empty_files() {
    let dir = tempfile::tempdir().unwrap();
    let mut writer = writer(dir.path());
    let path = dir.path().join("raw-000001-20260102T030405Z.nmea");
    File::create(&path).unwrap();
    // Opened for reading only, so that writing fails.
    let file = File::open(&path).unwrap();
    writer.open = Some(OpenFile::of(path.clone(), file, Millis(0)));
    writer.write(line(1));
    writer.close();
    assert_eq!(report(&writer).lost, 1);
    assert!(!path.exists());
}

#[test]
fn senders_are_answered_when_all_that_waited_is_in_the_file() {
    let dir = tempfile::tempdir().unwrap();
    let mut writer = writer(dir.path());
    let (first, mut first_answer) = durable(1);
    let (third, mut third_answer) = durable(3);
    writer.write(first);
    writer.write(line(2));
    writer.write(third);
    assert!(first_answer.try_recv().is_err());
    writer.settle_if_due();
    assert_eq!(first_answer.try_recv(), Ok(KeptIn::Disk));
    assert_eq!(third_answer.try_recv(), Ok(KeptIn::Disk));
    assert_eq!(recorded(dir.path()), texts([1, 2, 3]));
    assert_eq!(report(&writer).lines, 3);
}

#[test]
fn a_line_that_fills_the_file_is_answered_when_that_is_closed() {
    let dir = tempfile::tempdir().unwrap();
    let mut writer = writer(dir.path());
    let (crew, mut answer) = durable(0);
    writer.write(crew);
    for number in 1..=(MIB / 100) as i64 {
        writer.write(line(number));
    }
    assert_eq!(answer.try_recv(), Ok(KeptIn::Disk));
    assert_eq!(recordings(dir.path()).unwrap().len(), 2);
}

#[test]
fn a_file_that_was_deleted_is_begun_anew_and_no_line_that_must_stay_is_lost() {
    let dir = tempfile::tempdir().unwrap();
    let place = dir.path().join("records");
    let mut writer = writer(&place);
    writer.write(line(1));
    writer.settle(true);
    fs::remove_dir_all(&place).unwrap();
    writer.write(line(2));
    let (crew, mut answer) = durable(3);
    writer.write(crew);
    writer.settle_if_due();
    assert_eq!(answer.try_recv(), Ok(KeptIn::Memory));
    assert_eq!(recorded(&place), texts([3]));
    let now = report(&writer);
    assert_eq!((now.lines, now.lost, now.waiting), (2, 1, 0));
    assert!(matches!(now.state, RecordState::Recording { .. }));
}

#[test]
fn a_file_that_was_moved_keeps_what_was_settled_and_nothing_is_in_two_files() {
    let dir = tempfile::tempdir().unwrap();
    let mut writer = writer(dir.path());
    writer.write(line(1));
    writer.settle(true);
    let moved = dir.path().join("raw-good-day.nmea");
    fs::rename(&recordings(dir.path()).unwrap()[0].path, &moved).unwrap();
    let (crew, _answer) = durable(2);
    writer.write(crew);
    writer.settle_if_due();
    assert_eq!(fs::read_to_string(&moved).unwrap(), texts([1]));
    assert_eq!(recorded(dir.path()), texts([2]));
    assert_eq!(report(&writer).lost, 0);
}

#[test]
fn no_more_lines_wait_than_memory_is_set_aside_for() {
    let dir = tempfile::tempdir().unwrap();
    let place = dir.path().join("records");
    fs::write(&place, "a file in the way").unwrap();
    let mut writer = writer(&place);
    let count = WAITING_LINES as i64 + 5;
    for number in 0..count {
        writer.write(durable(number).0);
    }
    let now = report(&writer);
    assert_eq!((now.waiting, now.lost), (WAITING_LINES as u64, 5));
    fs::remove_file(&place).unwrap();
    writer.end();
    assert_eq!(recorded(&place), texts(5..count));
}
