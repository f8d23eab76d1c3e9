//! Recorded logs through framer and decoder.

use std::collections::BTreeMap;

use skimwatch::decode::{DecodeReject, Decoder};
use skimwatch::feed::{ChecksumPolicy, Frame, FrameSettings, Framer, SentenceKind, StreamEnd};

#[test]
fn look() {
    let mut refused: BTreeMap<String, (u32, String)> = BTreeMap::new();
    let mut good: BTreeMap<&str, [u32; 3]> = BTreeMap::new();
    for entry in std::fs::read_dir("../shared/nmea-logs").unwrap() {
        let path = entry.unwrap().path();
        let bytes = std::fs::read(&path).unwrap();
        let mut framer = Framer::new(FrameSettings {
            checksum: ChecksumPolicy::IfPresent,
            ..FrameSettings::default()
        });
        let mut decoder = Decoder::new();
        let mut take = |frame| {
            if let Frame::Sentence(s) = frame
                && s.kind == SentenceKind::Parametric
            {
                match decoder.decode(&s.text) {
                    Ok(d) => {
                        let c = good.entry(d.kind).or_default();
                        c[if d.partial {
                            2
                        } else if d.is_void() {
                            1
                        } else {
                            0
                        }] += 1;
                    }
                    Err(DecodeReject::Unsupported { .. }) => {}
                    Err(e) => {
                        let key = format!("{} {}", e.cause(), s.address());
                        let v = refused
                            .entry(key)
                            .or_insert((0, format!("{} :: {e} :: {}", path.display(), s.text)));
                        v.0 += 1;
                    }
                }
            }
        };
        framer.push(&bytes, &mut take);
        framer.flush(StreamEnd::Whole, &mut take);
    }
    for (k, v) in good {
        println!("{k} {v:?}");
    }
    for (k, v) in refused {
        println!("{k} {v:?}");
    }
}
