//! What `markhold shelf note` and `markhold shelf delete` may be told.

use clap::Args;

#[derive(Args, Debug)]
pub struct Note {
    /// The evening
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// The note, in place of the one before
    #[arg(value_name = "TEXT")]
    pub text: Option<String>,

    /// Whom it was heard from
    #[arg(long, value_name = "NAME")]
    pub station: Option<String>,
}

#[derive(Args, Debug)]
pub struct Delete {
    /// The evening
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// Without asking again
    #[arg(long)]
    pub yes: bool,
}
