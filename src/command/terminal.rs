//! Standard output: its width, whether it takes colour, and writing to it.

use std::env;
use std::io::{self, ErrorKind, IsTerminal, Write};

/// Columns of a page that is not a terminal.
const PAGE: usize = 80;

/// Columns of the terminal, or of a plain page when the output goes elsewhere.
pub fn width() -> usize {
    terminal_size::terminal_size_of(io::stdout()).map_or(PAGE, |(width, _)| usize::from(width.0))
}

/// True when the output is a terminal and nobody asked for none (no-color.org).
pub fn colour() -> bool {
    let asked_for_none = env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = env::var_os("TERM").is_some_and(|term| term == "dumb");
    io::stdout().is_terminal() && !asked_for_none && !dumb
}

/// Writes everything to standard output. A reader that has seen enough and closed the pipe is content.
pub fn write(bytes: &[u8]) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(gone) if gone.kind() == ErrorKind::BrokenPipe => Ok(()),
        result => result,
    }
}
