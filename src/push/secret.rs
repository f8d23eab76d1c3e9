//! Files of secrets. What is in them is never told, neither in a log nor in a complaint.

use std::path::Path;

use tokio::fs::File;
use tokio::io::AsyncReadExt as _;

/// A file longer than this is none of secrets.
const LARGEST_BYTES: u64 = 4096;

/// The lines of a file, which must be so many; blanks at their ends do not count.
///
/// # Errors
/// What is wrong with it, with file and cure.
pub(super) async fn lines<const N: usize>(
    path: &Path,
    are: [&str; N],
) -> Result<[String; N], String> {
    let name = path.display();
    let text = async {
        let mut text = String::new();
        let file = File::open(path).await?;
        file.take(LARGEST_BYTES).read_to_string(&mut text).await?;
        Ok::<_, std::io::Error>(text)
    };
    let text = text.await.map_err(|why| {
        format!("{name} cannot be read ({why}): the daemon's user must be able to")
    })?;
    let lines: Vec<String> = text.lines().map(|line| line.trim().to_owned()).collect();
    let is_fit = |line: &String| !line.is_empty() && line.bytes().all(|b| b.is_ascii_graphic());
    match <[String; N]>::try_from(lines) {
        Ok(lines) if lines.iter().all(is_fit) => Ok(lines),
        _ => Err(format!(
            "{name} must hold {N} line(s) of printable ASCII without blanks: {}",
            are.join(", ")
        )),
    }
}
