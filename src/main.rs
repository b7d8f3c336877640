//! Parse, run, exit code.

use std::io::Write;
use std::process::ExitCode;

use clap::Parser;
use soapstone::command::{Cli, run};

fn main() -> ExitCode {
    match run(Cli::parse()) {
        Ok(answer) => ExitCode::from(answer.code()),
        Err(failure) => {
            // Nobody is left to tell when standard error is closed.
            let _ = writeln!(std::io::stderr(), "soapstone: {failure}");
            ExitCode::from(failure.code())
        }
    }
}
