//! Serial ports.

use std::io::ErrorKind;
use std::path::Path;

use tokio::io::AsyncReadExt;
use tokio_serial::SerialStream;

use super::Failure;
use super::frame::StreamEnd;
use super::framer::Framer;
use super::intake::Intake;

/// Reads the port until it fails. A read of 0 bytes means the device is gone.
pub(super) async fn session(
    device: &Path,
    baud: u32,
    intake: &Intake,
    framer: &mut Framer,
) -> Failure {
    let mut port = match open(device, baud) {
        Ok(port) => port,
        Err(failure) => return failure,
    };
    intake.opened(1);
    let mut buffer = [0; 1024];
    let cause = loop {
        match port.read(&mut buffer).await {
            Ok(0) => break "it is gone".to_owned(),
            Ok(count) => {
                intake.take(framer, &buffer[..count]);
            }
            Err(error) => break format!("reading failed: {error}"),
        }
    };
    intake.end(framer, StreamEnd::Broken);
    Failure(format!(
        "serial device {}: {cause}; check plug and cable",
        device.display()
    ))
}

/// Opens it for ourselves alone: two readers of one port would each get half of every line.
fn open(device: &Path, baud: u32) -> Result<SerialStream, Failure> {
    let name = device.to_string_lossy();
    SerialStream::open(&tokio_serial::new(name.as_ref(), baud)).map_err(|error| {
        let cure = match error.kind {
            tokio_serial::ErrorKind::NoDevice
            | tokio_serial::ErrorKind::Io(ErrorKind::NotFound) => {
                "plug it in, or give another device path"
            }
            tokio_serial::ErrorKind::Io(ErrorKind::PermissionDenied) => {
                "add the daemon's user to the group that owns it (often dialout)"
            }
            _ => "is it a serial port, and free of other programs?",
        };
        Failure(format!("serial device {name}: {error}; {cure}"))
    })
}
