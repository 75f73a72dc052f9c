//! `markhold manual DIR`: man pages, completions and the reference page, made from the definitions
//! that `--help` is made of, and the manual as a site. For who packs the program; hidden from who uses it.

mod json_lines;
mod options;
mod reference;
mod settings_keys;
mod table;

pub use options::Options;

use crate::outcome::Outcome;
use anyhow::Context;
use clap::Command;
use clap_complete::Shell;
use std::path::Path;

/// The program's name.
const NAME: &str = "markhold";

/// Writes all of it, of this definition of the program.
pub fn run(options: &Options, definition: Command) -> anyhow::Result<Outcome> {
    let mut offered = seen(&definition);
    let mut cli = definition;
    cli.build();
    let folder = &options.folder;
    let (pages, completions) = (folder.join("man1"), folder.join("completions"));
    for folder in [&pages, &completions] {
        std::fs::create_dir_all(folder).with_context(|| folder.display().to_string())?;
    }
    page(&cli, NAME, &pages)?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        clap_complete::generate_to(shell, &mut offered, NAME, &completions)
            .with_context(|| completions.display().to_string())?;
    }
    write(
        &folder.join("reference.md"),
        reference::text(&cli).as_bytes(),
    )?;
    site(&folder.join("site"))?;
    Ok(Outcome::Done)
}

/// The manual as the desk shows it, in a folder.
fn site(folder: &Path) -> anyhow::Result<()> {
    for (path, bytes) in markhold_desk::manual::site() {
        let file = folder.join(path);
        let above = file.parent().unwrap_or(folder);
        std::fs::create_dir_all(above).with_context(|| above.display().to_string())?;
        write(&file, &bytes)?;
    }
    Ok(())
}

/// A command without what is hidden: a shell is not to offer it.
fn seen(command: &Command) -> Command {
    let shown = subcommands(command).map(seen);
    // clap keeps a name for as long as the program runs, which ends after this.
    let name: &'static str = Box::leak(command.get_name().into());
    let bare = Command::new(name).args(command.get_arguments().cloned());
    let about = command.get_about().cloned().unwrap_or_default();
    bare.about(about)
        .args_conflicts_with_subcommands(command.is_args_conflicts_with_subcommands_set())
        .subcommands(shown)
}

/// The commands below one that people use.
fn subcommands(command: &Command) -> impl Iterator<Item = &Command> {
    let real = |c: &&Command| c.get_name() != "help" && !c.is_hide_set();
    command.get_subcommands().filter(real)
}

/// The man page of a command and of those below it.
fn page(command: &Command, name: &str, folder: &Path) -> anyhow::Result<()> {
    let mut page = Vec::new();
    let titled = command.clone().display_name(name);
    clap_mangen::Man::new(titled)
        .title(name.to_uppercase())
        .render(&mut page)?;
    write(&folder.join(format!("{name}.1")), &page)?;
    subcommands(command).try_for_each(|below| page_of(below, name, folder))
}

fn page_of(command: &Command, above: &str, folder: &Path) -> anyhow::Result<()> {
    page(command, &format!("{above}-{}", command.get_name()), folder)
}

fn write(file: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    std::fs::write(file, bytes).with_context(|| file.display().to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use clap::CommandFactory;

    #[test]
    fn pages_and_completions_are_of_what_is_seen() {
        let folder = tempfile::tempdir().expect("a folder");
        let options = Options {
            folder: folder.path().join("made"),
        };
        assert_eq!(
            run(&options, Cli::command()).expect("written"),
            Outcome::Done
        );
        let read = |name: &str| std::fs::read_to_string(options.folder.join(name)).expect(name);
        assert!(read("man1/markhold-shelf-join.1").contains("bearers"));
        assert!(read("site/manual/trouble.html").contains("<h3 id=\"no-tones-heard\">"));
        let page = read("man1/markhold.1");
        assert!(
            page.contains("markhold\\-copy(1)") || page.contains("copy"),
            "{page}"
        );
        for completion in ["markhold.bash", "_markhold", "markhold.fish"] {
            let text = read(&format!("completions/{completion}"));
            assert!(
                text.contains("practice") && text.contains("shelf"),
                "{completion}"
            );
            assert!(
                !text.contains("guardian"),
                "{completion} offers what is hidden"
            );
        }
    }
}
