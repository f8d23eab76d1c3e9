//! Framing and decoding beside the bare `nmea` crate, on the same sentences of the kinds that both
//! read. `SENTENCES=FILE cargo bench --bench sentences` takes the lines of a file; without it, those
//! of the fixtures. `tests/bench/side_by_side` adds a Python parser.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use skimwatch::decode::Decoder;
use skimwatch::feed::{Frame, FrameSettings, Framer, StreamEnd};

const FIXTURES: [&str; 3] = [
    include_str!("../../fixtures/turn-toward.nmea"),
    include_str!("../../fixtures/turn-away.nmea"),
    include_str!("../../fixtures/sensor-silent.nmea"),
];

/// Sentences without TAG block that both take.
fn sentences() -> Vec<String> {
    let text = match std::env::var_os("SENTENCES") {
        Some(path) => std::fs::read_to_string(path).expect("SENTENCES names a text file"),
        None => FIXTURES.concat(),
    };
    let mut decoder = Decoder::new();
    text.lines()
        .filter_map(|line| line.get(line.find('$')?..))
        .filter(|line| decoder.decode(line).is_ok() && bare(line))
        .map(str::to_owned)
        .collect()
}

/// Whether the bare crate reads it: its checksum holds, its kind is known, its fields are right.
fn bare(line: &str) -> bool {
    !matches!(
        nmea::parse_str(line),
        Err(_) | Ok(nmea::ParseResult::Unsupported(_))
    )
}

/// Sentences that we frame, check and decode out of a stream of bytes.
fn ours(stream: &[u8]) -> usize {
    let mut framer = Framer::new(FrameSettings::default());
    let mut decoder = Decoder::new();
    let mut read = 0;
    let mut take = |frame: Frame| {
        if let Frame::Sentence(sentence) = frame
            && black_box(decoder.decode(&sentence.text)).is_ok()
        {
            read += 1;
        }
    };
    framer.push(stream, &mut take);
    framer.flush(StreamEnd::Whole, &mut take);
    read
}

/// Sentences that the bare crate reads, lines given.
fn theirs(stream: &str) -> usize {
    let lines = stream.lines();
    lines.filter(|line| black_box(bare(line))).count()
}

fn sentence(c: &mut Criterion) {
    let sentences = sentences();
    let mut stream = sentences.join("\r\n");
    stream.push_str("\r\n");
    assert_eq!(ours(stream.as_bytes()), sentences.len());
    assert_eq!(theirs(&stream), sentences.len());
    println!("sentences: {}", sentences.len());
    let mut group = c.benchmark_group("sentences");
    group.throughput(Throughput::Elements(sentences.len() as u64));
    group.bench_function("framed and decoded", |b| {
        b.iter(|| ours(black_box(stream.as_bytes())));
    });
    group.bench_function("bare nmea crate", |b| {
        b.iter(|| theirs(black_box(&stream)));
    });
    group.finish();
}

criterion_group!(benches, sentence);
criterion_main!(benches);
