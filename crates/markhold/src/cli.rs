//! The commands.

use clap::{Parser, Subcommand};

/// Copies radioteletype: live at the desk, a page in the browser, or from recordings.
///
/// Without a command the desk opens.
#[derive(Debug, Parser)]
#[command(
    version,
    args_conflicts_with_subcommands = true,
    after_help = "\
Examples:
  markhold
  markhold --practice
  markhold --share
  markhold --to shack
  markhold copy evening.wav
  markhold air \"CQ CQ DE Q1ABC\" --es-n0 12 --out practice.wav"
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
    #[command(flatten)]
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    pub desk: crate::desk::Options,
}

/// What markhold can do.
#[derive(Debug, Subcommand)]
pub enum Command {
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Copy(Box<crate::copy::Options>),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Air(Box<crate::air::Options>),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Bench(Box<crate::bench::Options>),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Shelf(crate::shelf::Options),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Skeds(Box<crate::skeds::Options>),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Machine(Box<crate::machine::Options>),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Send(Box<crate::send::Options>),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Contacts(crate::contacts::Options),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    Check(crate::check::Options),
    #[allow(missing_docs, reason = "clap takes the words from the options")]
    #[command(hide = true)]
    Manual(crate::manual::Options),
    /// Watches over the line of another markhold, which starts this; of no use by hand
    #[command(hide = true)]
    Guardian,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_definition_holds_together() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_help_shows_two_examples() {
        let mut cli = Cli::command();
        cli.build();
        let real = |c: &&clap::Command| c.get_name() != "help" && !c.is_hide_set();
        let own = || cli.get_subcommands().filter(real);
        let deeper = own().flat_map(|c| c.get_subcommands()).filter(real);
        for command in std::iter::once(&cli).chain(own()).chain(deeper) {
            let help = command.clone().render_long_help().to_string();
            let (_, examples) = help.split_once("Examples:").expect("examples");
            let count = examples
                .lines()
                .filter(|l| l.starts_with("  markhold "))
                .count();
            assert!(count >= 2, "{}", command.get_name());
        }
    }
}
