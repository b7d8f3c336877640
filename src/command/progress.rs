//! How far long work has come, on a terminal only; a pipe sees nothing of it.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

use crate::analysis::Step;

/// Work with a line on the terminal while it runs, told of every step. The library draws on standard
/// error and only where that is a terminal.
pub fn watched<T>(work: impl FnOnce(&mut dyn FnMut(Step)) -> T) -> T {
    let line = ProgressBar::new_spinner();
    if let Ok(style) = ProgressStyle::with_template("{elapsed:>4}  {msg}") {
        line.set_style(style);
    }
    line.enable_steady_tick(Duration::from_millis(250));
    let done = work(&mut |step| line.set_message(words(step)));
    line.finish_and_clear();
    done
}

fn words(step: Step) -> String {
    match step {
        Step::Reading => "reading the file".to_owned(),
        Step::Joining => "joining the facets".to_owned(),
        Step::Measuring { done, of } => format!("measuring body {} of {of}", done + 1),
        Step::Counting => "counting what is alike".to_owned(),
    }
}
