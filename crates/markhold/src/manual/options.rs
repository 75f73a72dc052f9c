//! What the hidden command may be told.

use clap::Args;
use std::path::PathBuf;

/// Writes the man pages, the shells' completions and the reference page from the definitions that
/// --help is made of.
#[derive(Args, Debug)]
pub struct Options {
    /// Folder for man1/, completions/ and reference.md; made where it is missing
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
}
