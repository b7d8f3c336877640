//! Files written whole or not at all: under another name first, then renamed.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use tempfile::Builder;

use super::Failure;

/// Whether files that are there may be lost.
#[derive(Clone, Copy, Debug, Args)]
pub struct Overwrite {
    /// Write over files that are already there
    #[arg(long)]
    force: bool,
}

/// A file to be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutFile {
    /// Where.
    pub path: PathBuf,
    /// What.
    pub bytes: Vec<u8>,
}

/// Writes all files. Where one of them is there already and may not be lost, none is written.
pub fn write_all(files: &[OutFile], overwrite: Overwrite) -> Result<(), Failure> {
    if !overwrite.force
        && let Some(there) = files.iter().find(|file| file.path.exists())
    {
        return Err(Failure::Exists {
            path: there.path.display().to_string(),
        });
    }
    for file in files {
        write(file, overwrite).map_err(|why| match why.kind() {
            io::ErrorKind::AlreadyExists => Failure::Exists {
                path: file.path.display().to_string(),
            },
            _ => Failure::Save {
                path: file.path.display().to_string(),
                why: why.to_string(),
            },
        })?;
    }
    Ok(())
}

/// Makes the folder files go to.
pub fn make_folder(folder: &Path) -> Result<(), Failure> {
    fs::create_dir_all(folder).map_err(|why| Failure::Save {
        path: folder.display().to_string(),
        why: why.to_string(),
    })
}

fn write(file: &OutFile, overwrite: Overwrite) -> io::Result<()> {
    let folder = match file.path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = Builder::new();
    builder.prefix(".soapstone-");
    // The library makes files nobody else can read; these are for the shop.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut temporary = builder.tempfile_in(folder)?;
    temporary.write_all(&file.bytes)?;
    temporary.flush()?;
    let done = match overwrite.force {
        true => temporary.persist(&file.path),
        false => temporary.persist_noclobber(&file.path),
    };
    done.map(drop).map_err(|refused| refused.error)
}

/// A name as part of a file name: what a file system may refuse becomes a low line.
pub fn file_name(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            c if c.is_alphanumeric() => c,
            '-' | '.' | '_' | '+' => c,
            _ => '_',
        })
        .collect()
}
