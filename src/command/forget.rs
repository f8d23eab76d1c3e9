//! `skimwatch forget`: removes what was learnt about the kite of the settings, through the daemon if
//! one runs with these settings, else in the file itself.

use std::error::Error;
use std::io;
use std::net::SocketAddr;
use std::path::Path;
use std::time::{Duration, Instant};

use axum::http::{Method, StatusCode};

use super::daemon::{Daemon, NoAnswer};
use super::{Failure, block_on, print_line};
use crate::drive::{read_memory, write_memory};
use crate::rig::RigParameters;
use crate::settings;

/// Longest wait for the daemon to rewrite its file: a busy one may be behind.
const WRITTEN_WITHIN: Duration = Duration::from_secs(20);

pub(super) fn forget(path: &Path) -> Result<(), Failure> {
    let settings = settings::load(path).map_err(Failure::settings)?;
    let (rig, file) = (&settings.rig.parameters, settings.learnt_file.as_deref());
    let daemon = Daemon::new(&settings, path)?;
    let address = daemon.address;
    if block_on(tell_daemon(&daemon))?? {
        if let Some(file) = file {
            wait_until_gone(file, rig, address)?;
        }
        return print_line(&format!(
            "forgotten by the daemon at http://{address}/, which goes on"
        ));
    }
    let Some(file) = file else {
        return print_line("forecast.learnt_file is not set: nothing learnt is kept");
    };
    let name = file.display();
    let memory = read_memory(file).map_err(|why| {
        Failure::data(format!(
            "{why}; move it away, or start the daemon, which keeps it aside"
        ))
    })?;
    match memory {
        Some(mut memory) if memory.holds(rig) => {
            memory.forget(rig);
            write_memory(file, &memory).map_err(Failure::unavailable)?;
            print_line(&format!(
                "{name}: forgotten; what was learnt of other kites ({}) stays. No daemon runs at \
                 http://{address}/",
                memory.kites()
            ))
        }
        _ => print_line(&format!("{name}: nothing was learnt yet of this kite")),
    }
}

/// Tells a running daemon to forget; false when there is none. A demo or a replay at that address
/// knows nothing of this boat.
async fn tell_daemon(daemon: &Daemon) -> Result<bool, Failure> {
    let address = daemon.address;
    let failed = |why: NoAnswer| not_taken(address, &why.to_string());
    let Some(stream) = daemon.connect().await else {
        return Ok(false);
    };
    let health = match daemon.ask(stream, Method::GET, "/healthz", None).await {
        Ok((_, health)) => health,
        Err(why) if is_not_http(why.as_ref()) => return Ok(false),
        Err(why) => return Err(failed(why)),
    };
    let is_daemon = serde_json::from_slice::<serde_json::Value>(&health)
        .is_ok_and(|health| health["mode"] == "live");
    if !is_daemon {
        return Ok(false);
    }
    let stream = daemon.connect().await;
    let stream = stream.ok_or_else(|| failed("no connection".into()))?;
    let answer = daemon
        .ask(stream, Method::POST, "/v1/crew/forget", None)
        .await;
    match answer.map_err(failed)? {
        (StatusCode::ACCEPTED, _) => Ok(true),
        (status, _) => Err(not_taken(address, &status.to_string())),
    }
}

/// Whether something answered that does not speak HTTP. A daemon that is silent, or that closes the
/// connection, does.
fn is_not_http(why: &(dyn Error + 'static)) -> bool {
    why.downcast_ref::<hyper::Error>().is_some_and(|why| {
        let is_io = why.source().is_some_and(|source| source.is::<io::Error>());
        !is_io && !why.is_incomplete_message()
    })
}

fn not_taken(address: SocketAddr, why: &str) -> Failure {
    Failure::unavailable(format!(
        "what runs at http://{address}/ did not take it ({why}), and would keep what it knows: stop \
         it, then try again"
    ))
}

/// Waits until the daemon has rewritten the file. A daemon with other settings never does.
fn wait_until_gone(file: &Path, rig: &RigParameters, address: SocketAddr) -> Result<(), Failure> {
    let name = file.display();
    let since = Instant::now();
    loop {
        match read_memory(file) {
            Ok(Some(memory)) if memory.holds(rig) => {}
            Ok(_) => return Ok(()),
            Err(why) => {
                return print_line(&format!("whether {name} is written is not seen: {why}"));
            }
        }
        if since.elapsed() > WRITTEN_WITHIN {
            return Err(Failure::unavailable(format!(
                "the daemon at http://{address}/ took it, but {name} still holds this kite: does it \
                 run with these settings? Start it again with them, then try again"
            )));
        }
        std::thread::sleep(Duration::from_millis(100));
    }
}

#[cfg(test)]
mod tests {
    use std::io::{Read as _, Write as _};

    use super::*;

    /// Answers one connection after the other with these words.
    fn answering(words: &[&'static str]) -> SocketAddr {
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let words = words.to_vec();
        std::thread::spawn(move || {
            for words in words {
                let (mut stream, _) = listener.accept().unwrap();
                let _ = stream.read(&mut [0; 1024]).unwrap();
                stream.write_all(words.as_bytes()).unwrap();
            }
        });
        address
    }

    const LIVE: &str = "HTTP/1.1 200 OK\r\nContent-Length: 15\r\n\r\n{\"mode\":\"live\"}";

    #[tokio::test]
    async fn only_a_daemon_is_told() {
        let demo: &'static str = LIVE.replace("live", "demo").leak();
        for other in ["SSH-2.0-x\r\n", demo] {
            let told = tell_daemon(&Daemon::at(answering(&[other]))).await;
            assert!(!told.unwrap(), "{other}");
        }
        let taken = "HTTP/1.1 202 Accepted\r\nContent-Length: 0\r\n\r\n";
        assert!(
            tell_daemon(&Daemon::at(answering(&[LIVE, taken])))
                .await
                .unwrap()
        );
    }

    #[tokio::test]
    async fn a_daemon_that_does_not_take_it_is_a_failure() {
        let busy = "HTTP/1.1 503 Service Unavailable\r\nContent-Length: 0\r\n\r\n";
        for (words, why) in [(&[LIVE, busy][..], "503"), (&[""], "did not take it")] {
            let failure = tell_daemon(&Daemon::at(answering(words)))
                .await
                .unwrap_err();
            assert!(failure.to_string().contains(why), "{failure}");
        }
    }
}
