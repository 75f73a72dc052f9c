//! The reference page: every option, settings key, exit code, cause of doubt and field of a JSON line.

use super::subcommands;
use super::table::row_of;
use super::{json_lines, settings_keys::tables};
use clap::{Arg, Command};
use markhold_event::Doubt;
use std::fmt::Write;

/// What stands above everything.
const HEAD: &str = "\
# Reference

Made by `markhold manual` from the definitions of the program; `make reference` makes it anew.

";

/// What an exit code says.
const EXIT_CODES: [(&str, &str); 4] = [
    (
        "0",
        "done: text was copied, a recording made, nothing is wrong",
    ),
    ("1", "there was nothing to copy or to show"),
    ("2", "something went wrong and was told on standard error"),
    (
        "128 and more",
        "stopped half-way by the signal of that number less 128: 130 is Ctrl-C, 143 SIGTERM",
    ),
];

/// The page.
pub fn text(cli: &Command) -> String {
    let mut out = String::from(HEAD);
    out += "## Commands and options\n\n";
    command(&mut out, cli, "markhold");
    out += "## Settings\n\n";
    out += "`~/.config/markhold/settings.toml` (`$XDG_CONFIG_HOME`), or the file that `--settings` names. \
            Every table and key is optional; `markhold check` says which line does not do.\n\n";
    for table in tables() {
        row_head(
            &mut out,
            &format!("### `{}`\n\n{}.\n", table.head, capital(table.about)),
            "key",
        );
        for (key, meaning) in &table.keys {
            row(&mut out, &format!("`{key}`"), meaning);
        }
        out += "\n";
    }
    row_head(&mut out, "## Exit codes\n", "code");
    for (code, meaning) in EXIT_CODES {
        row(&mut out, code, meaning);
    }
    out += "\n";
    row_head(
        &mut out,
        "## Causes of doubt\n\nAs in `--json` and on the desk's page.\n",
        "cause",
    );
    for (doubt, word) in Doubt::ALL {
        row(&mut out, &format!("`{word}`"), meaning(doubt));
    }
    out += "\n";
    json_lines::section(&mut out);
    out.truncate(out.trim_end().len());
    out += "\n";
    out
}

fn row_head(out: &mut String, title: &str, first: &str) {
    let _ = writeln!(out, "{title}\n| {first} | what it says |\n|---|---|");
}

fn row(out: &mut String, first: &str, meaning: &str) {
    row_of(out, &[first, &cell(meaning)]);
}

/// One line of a table.
fn cell(text: &str) -> String {
    let one: Vec<&str> = text.split_whitespace().collect();
    one.join(" ").replace('|', "\\|")
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

/// A command with its options, then those below it.
fn command(out: &mut String, command: &Command, name: &str) {
    let about = command.get_long_about().or(command.get_about());
    let about = about.map(ToString::to_string).unwrap_or_default();
    let _ = writeln!(out, "### `{name}`\n\n{}\n", about.trim());
    let shown =
        |arg: &&Arg| !arg.is_hide_set() && !["help", "version"].contains(&arg.get_id().as_str());
    let args: Vec<&Arg> = command.get_arguments().filter(shown).collect();
    if !args.is_empty() {
        row_head(out, "", "option");
        for arg in args {
            row(out, &format!("`{}`", written(arg)), &said(arg));
        }
        *out += "\n";
    }
    for below in subcommands(command) {
        self::command(out, below, &format!("{name} {}", below.get_name()));
    }
}

/// An option as it is typed.
fn written(arg: &Arg) -> String {
    let names = arg.get_value_names().unwrap_or_default();
    let values: Vec<String> = names.iter().map(ToString::to_string).collect();
    let takes = arg.get_action().takes_values();
    let value = match takes {
        true => values.join(" "),
        false => String::new(),
    };
    match arg.get_long() {
        Some(long) => format!("--{long} {value}").trim_end().to_string(),
        None => value,
    }
}

/// What an option does, its values and what is usual.
fn said(arg: &Arg) -> String {
    let help = arg.get_help().map(ToString::to_string).unwrap_or_default();
    let values = arg.get_possible_values();
    let names: Vec<&str> = values
        .iter()
        .filter(|v| !v.is_hide_set())
        .map(|v| v.get_name())
        .collect();
    let usual: Vec<String> = arg
        .get_default_values()
        .iter()
        .map(|value| value.to_string_lossy().into_owned())
        .collect();
    let mut said = help;
    if arg.get_action().takes_values() && names.len() > 1 {
        let _ = write!(said, "; one of {}", names.join(", "));
    }
    if arg.get_action().takes_values() && !usual.is_empty() {
        let _ = write!(said, " [default: {}]", usual.join(" "));
    }
    said
}

/// What a cause of doubt means to a person.
fn meaning(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::FadeOfOneTone => "one tone faded away",
        Doubt::Fade => "both tones faded away, or the signal is weak throughout",
        Doubt::Crash => "a static crash covered part of the character",
        Doubt::Neighbour => "another signal fell into the pair",
        Doubt::Gain => "the receiver's gain was pumped by something strong",
        Doubt::Drift => "the tones moved away from where they were followed",
        Doubt::Timing => "the elements do not fit their places in time",
        Doubt::ShiftLost => "the shift character before it may be lost",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use clap::CommandFactory;

    #[test]
    fn options_keys_codes_and_causes_are_there() {
        let mut cli = Cli::command();
        cli.build();
        let page = text(&cli);
        for said in [
            "### `markhold shelf join`",
            "| `--listen S` |",
            "| `sound_limit` |",
            "| 128 and more |",
            "| `shift-lost` |",
        ] {
            assert!(page.contains(said), "{said}");
        }
        assert!(!page.contains("guardian"), "what is hidden stays hidden");
    }
}
