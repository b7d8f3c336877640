//! How far long work has come, on a terminal only; a pipe sees nothing of it.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

use super::Failure;
use crate::analysis::{Asked, Examined, Step, examine_watched};

/// The analysis of a model with a line on the terminal while it runs. The library draws on standard
/// error and only where that is a terminal.
pub fn examine(bytes: &[u8], path: &str, asked: &Asked) -> Result<Examined, Failure> {
    let line = ProgressBar::new_spinner();
    if let Ok(style) = ProgressStyle::with_template("{elapsed:>4}  {msg}") {
        line.set_style(style);
    }
    line.enable_steady_tick(Duration::from_millis(250));
    let found = examine_watched(bytes, path, asked, &mut |step| {
        line.set_message(words(step));
    });
    line.finish_and_clear();
    found.map_err(|why| Failure::Read {
        path: path.to_owned(),
        why,
    })
}

fn words(step: Step) -> String {
    match step {
        Step::Reading => "reading the file".to_owned(),
        Step::Joining => "joining the facets".to_owned(),
        Step::Measuring { done, of } => format!("measuring body {} of {of}", done + 1),
        Step::Counting => "counting what is alike".to_owned(),
    }
}
