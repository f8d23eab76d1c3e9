//! Serial feeds over a pseudo-terminal: it takes a baud rate and can be unplugged, though unlike
//! a wire it does not slow the bytes down, so the sender keeps to 4800 baud here.

use std::fs::{self, File};
use std::io::Write;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::time::{Duration, Instant};

use nix::pty::openpty;
use skimwatch::cause::Cause;
use skimwatch::feed::{FeedSpec, Link};

use crate::feed::{A, B, Bench};

/// The far end of a made-up serial cable, whose near end is found at a stable name.
pub(crate) struct Cable {
    far: File,
    _near: std::os::fd::OwnedFd,
}

impl Cable {
    pub(crate) fn plug_in(name: &Path) -> Self {
        let pair = openpty(None, None).unwrap();
        if name.is_symlink() {
            fs::remove_file(name).unwrap();
        }
        symlink(nix::unistd::ttyname(&pair.slave).unwrap(), name).unwrap();
        Self {
            far: File::from(pair.master),
            _near: pair.slave,
        }
    }

    /// The far end, to read what is sent.
    pub(crate) fn far_end(&self) -> File {
        self.far.try_clone().unwrap()
    }

    /// At 4800 baud, 8N1: 480 bytes a second.
    pub(crate) fn send_slowly(&mut self, text: &str) -> Duration {
        let started = Instant::now();
        for (sent, piece) in (0_u32..).zip(text.as_bytes().chunks(8)) {
            let due = Duration::from_secs_f64(f64::from(sent) * 8.0 / 480.0);
            std::thread::sleep(due.saturating_sub(started.elapsed()));
            self.far.write_all(piece).unwrap();
        }
        started.elapsed()
    }
}

fn serial(name: &Path) -> FeedSpec {
    FeedSpec::Serial {
        device: name.to_owned(),
        baud: 4800,
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn unplugged_and_plugged_in_again() {
    let dir = tempfile::tempdir().unwrap();
    let name = dir.path().join("wind-port");

    // Absent at first.
    let mut bench = Bench::start(serial(&name));
    let cause = bench.waiting_cause().await;
    assert!(cause.contains("wind-port"), "{cause}");
    assert!(cause.contains("plug it in"), "{cause}");

    let mut cable = Cable::plug_in(&name);
    bench.open().await;

    let lines = [A, B].repeat(5);
    let text: String = lines.iter().map(|line| format!("{line}\r\n")).collect();
    let took = cable.send_slowly(&text);
    assert!(took > Duration::from_millis(500), "{took:?}");
    assert_eq!(bench.texts(10).await, lines);

    // Noise as from a loose plug, then half a line, then it is pulled out.
    cable
        .far
        .write_all(b"\xff\xfe\0\0\x80$\x81\r\n$WIMWV,21")
        .unwrap();
    bench
        .report_where(|report| report.counters.rejected.get(&Cause::Garbled) >= Some(&2))
        .await;
    drop(cable);
    let cause = bench.waiting_cause().await;
    assert!(cause.contains("check plug and cable"), "{cause}");
    fs::remove_file(&name).unwrap();

    // While it is out, attempts are ever fewer: after pauses of 0.25, 0.5, 1, ... s.
    bench
        .report_where(
            |report| matches!(report.link, Link::Waiting { retry_in_s, .. } if retry_in_s >= 1.0),
        )
        .await;

    let mut cable = Cable::plug_in(&name);
    bench.open().await;
    cable.send_slowly(&format!("4.8,R,0.1,K,A*28\r\n{B}\r\n"));
    assert_eq!(bench.texts(1).await, [B]);
    let counters = bench.counters();
    assert_eq!(counters.reconnects, 1);
    assert_eq!(counters.good, 11);
    bench.stop().await;
}

#[tokio::test]
async fn what_is_no_serial_port_is_said_so() {
    let dir = tempfile::tempdir().unwrap();
    let name = dir.path().join("plain-file");
    fs::write(&name, A).unwrap();
    let mut bench = Bench::start(serial(&name));
    let cause = bench.waiting_cause().await;
    assert!(cause.contains("is it a serial port"), "{cause}");
    bench.stop().await;
}
