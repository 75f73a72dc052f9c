//! What `markhold shelf compare` may be told.

use clap::Args;
use std::path::PathBuf;

#[derive(Args, Debug)]
pub struct Compare {
    /// The evening: a number, a date or last; 12/2 is its signal 2, otherwise the one that
    /// has most of the text
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// The published text; - for standard input
    #[arg(value_name = "FILE")]
    pub file: PathBuf,

    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}
