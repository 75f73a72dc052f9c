//! The text that is meant, its blanks filled in.

use super::Options;
use crate::files::{read_text, text_of};
use crate::machine::usual_settings;
use crate::outcome::say;
use anyhow::Context;
use jiff::Timestamp;
use markhold_contact::{Filling, Texts, fill};
use markhold_wire::transmit::TransmitterPlan;
use std::path::{Path, PathBuf};

/// The text to send.
///
/// Errors: it cannot be read, or a blank of it cannot be filled.
pub fn text(options: &Options, plan: &TransmitterPlan) -> anyhow::Result<String> {
    let text = match (&options.ready, &options.text) {
        (Some(name), _) => Texts::in_folder(&folder(options))?.get(name)?.to_string(),
        (None, Some(given)) => given_text(given)?,
        (None, None) => String::new(),
    };
    let filling = Filling {
        own: plan.call.clone(),
        call: options.with.clone(),
        name: options.name.clone(),
        report: options.report.clone(),
        now: Timestamp::now(),
        number: options.number,
    };
    Ok(fill(&text, &filling)?)
}

/// Texts lie beside the settings file.
pub fn folder_beside(settings: Option<&Path>) -> PathBuf {
    let settings = settings.map(Path::to_path_buf).or_else(usual_settings);
    settings.unwrap_or_default().with_file_name("texts")
}

fn folder(options: &Options) -> PathBuf {
    folder_beside(options.settings.as_deref())
}

/// Standard input, a file of this name, or the text itself.
fn given_text(given: &str) -> anyhow::Result<String> {
    if given == "-" {
        return text_of(std::io::stdin()).context("standard input");
    }
    let file = Path::new(given);
    if file.exists() {
        say(&format!("{given}: the text in this file"));
        return read_text(file);
    }
    Ok(given.to_string())
}
