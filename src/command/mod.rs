//! The verbs of the command line. The only module that opens files or writes to the terminal.

mod check;
mod choices;
mod cut_pages;
mod cutlist;
mod failure;
mod generate;
mod input;
mod interrupt;
mod jig;
mod lay;
mod markout;
mod model;
mod outline;
mod output;
mod paper;
mod planning;
mod progress;
mod proof;
mod read;
mod roll;
mod schema;
mod sheet;
mod shop_file;
mod terminal;
mod workpiece;

pub use failure::Failure;

use clap::{Parser, Subcommand};

/// Turns a 3D mesh into the numbers a metal shop needs to make every part in it.
#[derive(Debug, Parser)]
#[command(name = "soapstone", version, about, max_term_width = 100, after_help = EXIT_CODES)]
pub struct Cli {
    #[command(subcommand)]
    verb: Verb,
}

const EXIT_CODES: &str =
    "Exit codes: 0 done; 1 done, and the answer is no; 2 the input or the options can't be used.";

#[derive(Debug, Subcommand)]
enum Verb {
    Read(read::Options),
    Outline(outline::Options),
    Lay(lay::Options),
    Sheet(sheet::Options),
    Markout(markout::Options),
    Jig(jig::Options),
    Roll(roll::Options),
    Check(check::Options),
    Proof(proof::Options),
    Cutlist(cutlist::Options),
    ShopFile(shop_file::Options),
    Schema(schema::Options),
    Generate(generate::Options),
}

/// What a verb answered; [`Answer::code`] is the exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Done.
    Done,
    /// Done, and the answer to the question asked is no.
    No,
}

impl Answer {
    /// Exit code of the program.
    pub fn code(self) -> u8 {
        match self {
            Answer::Done => 0,
            Answer::No => 1,
        }
    }
}

/// Runs the verb.
pub fn run(cli: Cli) -> Result<Answer, Failure> {
    interrupt::tell_of_large_files();
    match cli.verb {
        Verb::Read(options) => read::run(&options),
        Verb::Outline(options) => outline::run(&options),
        Verb::Lay(options) => lay::run(&options),
        Verb::Sheet(options) => sheet::run(&options),
        Verb::Markout(options) => markout::run(&options),
        Verb::Jig(options) => jig::run(&options),
        Verb::Roll(options) => roll::run(&options),
        Verb::Check(options) => check::run(&options),
        Verb::Proof(options) => proof::run(&options),
        Verb::Cutlist(options) => cutlist::run(&options),
        Verb::ShopFile(options) => shop_file::run(&options),
        Verb::Schema(options) => schema::run(&options),
        Verb::Generate(options) => generate::run(&options),
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_options_are_sound() {
        super::Cli::command().debug_assert();
    }
}
