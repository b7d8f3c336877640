//! Files written whole or not at all: all of them under other names first, then renamed.

use std::fs::{self, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use tempfile::{Builder, TempPath};

use super::Failure;
use super::interrupt::Held;

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

/// Written between two looks at whether a stop was asked for.
const AT_ONCE: usize = 1 << 16;

/// Writes all files. Where one of them can't be written, or is there already and may not be lost, none
/// is.
pub fn write_all(files: &[OutFile], overwrite: Overwrite) -> Result<(), Failure> {
    write(None, files, overwrite)
}

/// The same, making the folder they go to where it isn't there.
pub fn write_into(folder: &Path, files: &[OutFile], overwrite: Overwrite) -> Result<(), Failure> {
    write(Some(folder), files, overwrite)
}

fn write(folder: Option<&Path>, files: &[OutFile], overwrite: Overwrite) -> Result<(), Failure> {
    // First, so that it goes last: what was begun is taken away before a stop is passed on.
    let held = Held::now();
    if !overwrite.force
        && let Some(there) = files.iter().find(|file| may_be_lost(&file.path))
    {
        return Err(exists(&there.path));
    }
    let _made = folder.map(Made::folder).transpose()?;
    let staged: Vec<Staged> = files
        .iter()
        .filter_map(|file| stage(file, &held).transpose())
        .collect::<Result<_, _>>()?;
    // From here on it is a matter of names: a stop finds all of the files.
    let mut done: Vec<&Path> = Vec::new();
    for Staged { temporary, path } in staged {
        let renamed = match overwrite.force {
            true => temporary.persist(path),
            false => temporary.persist_noclobber(path),
        };
        if let Err(refused) = renamed {
            if !overwrite.force {
                done.into_iter()
                    .for_each(|path| drop(fs::remove_file(path)));
            }
            return Err(match refused.error.kind() {
                ErrorKind::AlreadyExists => exists(path),
                _ => save(path, refused.error),
            });
        }
        done.push(path);
    }
    Ok(())
}

fn exists(path: &Path) -> Failure {
    Failure::Exists {
        path: path.display().to_string(),
    }
}

fn save(path: &Path, why: io::Error) -> Failure {
    Failure::Save {
        path: path.display().to_string(),
        why,
    }
}

/// True where a file stands. What a device or a pipe was sent is not lost by sending more.
fn may_be_lost(path: &Path) -> bool {
    fs::metadata(path).map_or_else(|_| path.is_symlink(), |there| there.is_file())
}

/// A file under another name, and the one it is to bear. It is gone with this, unless renamed.
struct Staged<'a> {
    temporary: TempPath,
    path: &'a Path,
}

/// Writes a file beside its place; a device or a pipe is written to at once.
fn stage<'a>(file: &'a OutFile, held: &Held) -> Result<Option<Staged<'a>>, Failure> {
    let path = file.path.as_path();
    let fail = |why| save(path, why);
    match fs::metadata(path) {
        Ok(there) if there.is_dir() => return Err(fail(ErrorKind::IsADirectory.into())),
        Ok(there) if !there.is_file() => {
            let sent = OpenOptions::new()
                .write(true)
                .open(path)
                .and_then(|mut to| to.write_all(&file.bytes).and_then(|()| to.flush()));
            return match sent {
                Err(gone) if gone.kind() == ErrorKind::BrokenPipe => Ok(None),
                sent => sent.map(|()| None).map_err(fail),
            };
        }
        _ => {}
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = Builder::new();
    builder.prefix(".soapstone-");
    // The library makes files nobody else can read; these are for the shop.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    // The kind of the library's error is the system's, its text names a file the user never asked for.
    let bare = |why: io::Error| {
        fail(
            why.raw_os_error()
                .map_or(why.kind().into(), io::Error::from_raw_os_error),
        )
    };
    let mut temporary = builder.tempfile_in(folder).map_err(bare)?;
    for some in file.bytes.chunks(AT_ONCE) {
        if held.asked() {
            return Err(fail(ErrorKind::Interrupted.into()));
        }
        temporary.as_file_mut().write_all(some).map_err(bare)?;
    }
    // A disk on the net may say only now that it is full.
    temporary.as_file().sync_all().map_err(bare)?;
    Ok(Some(Staged {
        temporary: temporary.into_temp_path(),
        path,
    }))
}

/// Folders made for the files; those that stay empty are taken away again.
struct Made(Vec<PathBuf>);

impl Made {
    fn folder(folder: &Path) -> Result<Made, Failure> {
        let missing = folder
            .ancestors()
            .take_while(|f| !f.as_os_str().is_empty() && !f.exists());
        let made = Made(missing.map(Path::to_owned).collect());
        fs::create_dir_all(folder).map_err(|why| save(folder, why))?;
        Ok(made)
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        self.0
            .iter()
            .for_each(|folder| drop(fs::remove_dir(folder)));
    }
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
