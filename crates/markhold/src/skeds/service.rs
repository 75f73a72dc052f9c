//! `markhold skeds service`: a unit of systemd by which skeds are looked after without a page.

use super::options::{Service, Side, Watch};
use crate::outcome::{Outcome, say};
use anyhow::Context;
use clap::ValueEnum;
use std::io::{Write, stdout};
use std::path::{Path, PathBuf};

/// The unit's name.
const NAME: &str = "markhold-skeds.service";

/// Prints the unit, or writes it where systemd looks for the units of this user.
pub fn run(place: &Path, settings: Option<&PathBuf>, service: &Service) -> anyhow::Result<Outcome> {
    let program = std::env::current_exe().context("the program's own place")?;
    let absolute = |path: &Path| std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    let settings = settings.map(|path| absolute(path));
    let line = command(
        &program,
        &absolute(place),
        settings.as_deref(),
        &service.watch,
    )?;
    let unit = unit(&line);
    if !service.write {
        stdout().lock().write_all(unit.as_bytes())?;
        return Ok(Outcome::Done);
    }
    let folder =
        folder().context("no home folder to write the unit in; print it without --write")?;
    std::fs::create_dir_all(&folder).with_context(|| folder.display().to_string())?;
    let file = folder.join(NAME);
    std::fs::write(&file, unit).with_context(|| file.display().to_string())?;
    say(&format!(
        "Written: {}\nIt runs from now on, and after every start of this computer, with\n  \
         systemctl --user daemon-reload\n  systemctl --user enable --now {NAME}\n  \
         loginctl enable-linger      (also while you are not logged in)\n\
         What it does is told by: journalctl --user --unit {NAME}",
        file.display()
    ));
    Ok(Outcome::Done)
}

/// Where systemd looks for a user's units (systemd.unit, 5).
fn folder() -> Option<PathBuf> {
    let set = |name| std::env::var_os(name).filter(|value| !value.is_empty());
    let config = set("XDG_CONFIG_HOME").map(PathBuf::from);
    let config = config.or_else(|| Some(PathBuf::from(set("HOME")?).join(".config")))?;
    Some(config.join("systemd/user"))
}

/// It is started again whenever it ends by itself, and at once: what is sent while it does not run
/// is lost. It is never given up either, for whatever ended it may be gone when the next bulletin
/// comes; an input that is not there ends nothing, it is tried again. Being told to end it may
/// take as long as copying to the end does. That it comes after the sound server is of use, not
/// needed.
fn unit(line: &str) -> String {
    format!(
        "# Written by markhold skeds service; made anew by it after a change.\n\
         [Unit]\n\
         Description=Markhold: skeds copied while nobody is there\n\
         After=pipewire-pulse.service pulseaudio.service\n\
         StartLimitIntervalSec=0\n\
         \n\
         [Service]\n\
         ExecStart={line}\n\
         Restart=always\n\
         RestartSec=100ms\n\
         TimeoutStopSec=30\n\
         \n\
         [Install]\n\
         WantedBy=default.target\n"
    )
}

fn command(
    program: &Path,
    place: &Path,
    settings: Option<&Path>,
    watch: &Watch,
) -> anyhow::Result<String> {
    let mut words = vec![text(program)?, "skeds".into(), "watch".into()];
    let mut option = |name: &str, value: Option<String>| {
        words.extend(value.map(|value| format!("--{name}={value}")));
    };
    option("shelf", Some(text(place)?));
    option("settings", settings.map(text).transpose()?);
    option("input", watch.input.clone());
    option(
        "channel",
        (watch.channel != 1).then(|| watch.channel.to_string()),
    );
    option(
        "sideband",
        (watch.sideband == Side::Upper).then(|| "upper".into()),
    );
    option(
        "sound-limit",
        watch.room.sound_limit.map(|bytes| bytes.to_string()),
    );
    let language = watch.reading.language.and_then(|l| l.to_possible_value());
    option(
        "language",
        language.map(|value| value.get_name().to_string()),
    );
    option("to", watch.to.clone());
    option("way", watch.along.way.clone());
    watch
        .along
        .set
        .iter()
        .for_each(|set| option("set", Some(set.clone())));
    option("patience", watch.along.patience.map(|s| s.to_string()));
    let flags = [
        ("--learn", watch.reading.learn),
        ("--no-learn", watch.reading.no_learn),
    ];
    let flags = flags.into_iter().filter(|(_, given)| *given);
    words.extend(flags.map(|(flag, _)| flag.to_string()));
    let quoted: Result<Vec<String>, _> = words.iter().map(|word| quoted(word)).collect();
    Ok(quoted?.join(" "))
}

fn text(path: &Path) -> anyhow::Result<String> {
    let text = path.to_str().map(str::to_string);
    text.with_context(|| {
        format!(
            "{}: a name that is no text cannot stand in a unit",
            path.display()
        )
    })
}

/// As one word of a command line in a unit (systemd.service, 5: quotes, specifiers, variables).
fn quoted(word: &str) -> anyhow::Result<String> {
    if word.chars().any(char::is_control) {
        anyhow::bail!("{word:?}: control characters cannot stand in a unit");
    }
    let mut out = String::from("\"");
    for c in word.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            '%' | '$' => out.extend([c, c]),
            _ => out.push(c),
        }
    }
    out.push('"');
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_stays_one_word() {
        assert_eq!(quoted("Line In").unwrap(), "\"Line In\"");
        assert_eq!(quoted("a\"b\\c%d$e").unwrap(), "\"a\\\"b\\\\c%%d$$e\"");
        assert!(quoted("a\nExecStart=/bin/x").is_err());
    }
}
