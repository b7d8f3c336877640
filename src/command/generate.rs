//! `generate`: manual pages and shell completions, for packagers.

use clap::{Args, CommandFactory, ValueEnum};
use clap_complete::Shell;
use clap_mangen::Man;

use super::{Answer, Cli, Failure, terminal};

/// Print the manual page or the completions of a shell
#[derive(Debug, Args)]
#[command(hide = true)]
pub struct Options {
    /// What to print
    #[arg(value_enum)]
    what: What,

    /// The verb a manual page is for; without it, the page of the whole program
    #[arg(value_name = "VERB")]
    verb: Option<String>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum What {
    Man,
    Bash,
    Elvish,
    Fish,
    Powershell,
    Zsh,
}

pub fn run(options: &Options) -> Result<Answer, Failure> {
    let mut command = Cli::command();
    let mut text = Vec::new();
    let shell = match options.what {
        What::Man => None,
        What::Bash => Some(Shell::Bash),
        What::Elvish => Some(Shell::Elvish),
        What::Fish => Some(Shell::Fish),
        What::Powershell => Some(Shell::PowerShell),
        What::Zsh => Some(Shell::Zsh),
    };
    match shell {
        Some(shell) => clap_complete::generate(shell, &mut command, "soapstone", &mut text),
        None => page(command, options.verb.as_deref())?.render(&mut text)?,
    }
    terminal::write(&text)?;
    Ok(Answer::Done)
}

fn page(mut command: clap::Command, verb: Option<&str>) -> Result<Man, Failure> {
    command.build();
    let Some(verb) = verb else {
        return Ok(Man::new(command));
    };
    match command.find_subcommand(verb) {
        Some(found) => Ok(Man::new(found.clone())),
        None => Err(Failure::NoSuchVerb(verb.to_owned())),
    }
}
