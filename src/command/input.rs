//! Files as they are read: whole, and never more than is good for the machine.

use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use super::Failure;

/// Most bytes of a model: the 50 million facets that are read of one stand in less as binary STL.
pub const MODEL: u64 = 4 << 30;
/// Most bytes of a file beside it: a shop file, a table, a program.
pub const BESIDE: u64 = 64 << 20;

/// The bytes of a file that holds `most` at most. A device that never ends is read no further than that.
pub fn bytes(path: &Path, most: u64) -> Result<Vec<u8>, Failure> {
    let name = || path.display().to_string();
    let read = read(path, most).map_err(|why| Failure::Open {
        path: name(),
        why: match why.kind() {
            ErrorKind::OutOfMemory => "there is not enough memory for it".to_owned(),
            ErrorKind::IsADirectory => "it is a folder".to_owned(),
            _ => why.to_string(),
        },
    })?;
    read.ok_or_else(|| Failure::TooLong { path: name(), most })
}

/// The same as text.
pub fn text(path: &Path) -> Result<String, Failure> {
    String::from_utf8(bytes(path, BESIDE)?).map_err(|_| Failure::Open {
        path: path.display().to_string(),
        why: "it is not text in UTF-8".to_owned(),
    })
}

/// `None` where there is more than `most`.
fn read(path: &Path, most: u64) -> io::Result<Option<Vec<u8>>> {
    let file = File::open(path)?;
    let length = file.metadata()?.len();
    if length > most {
        return Ok(None);
    }
    let mut bytes = Vec::new();
    bytes.try_reserve_exact(usize::try_from(length).unwrap_or(usize::MAX))?;
    // One byte more shows that there is more.
    file.take(most + 1).read_to_end(&mut bytes)?;
    Ok((bytes.len() as u64 <= most).then_some(bytes))
}
