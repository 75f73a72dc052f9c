//! What `markhold shelf join` may be told.

use crate::copy::options::Doubt;
use clap::Args;

#[derive(Args, Debug)]
pub struct Join {
    /// The evenings: numbers, dates or last; 12/2 is signal 2 of evening 12 alone
    #[arg(value_name = "EVENING", required_unless_present = "sked")]
    pub evenings: Vec<String>,

    /// What was kept of this sked's runs too, as far as it is known; several where one text is
    /// repeated by several skeds. When the next chance is, is said at the end
    #[arg(long, value_name = "SKED")]
    pub sked: Vec<i64>,

    /// Runs from this date on [default: the last two weeks]
    #[arg(long, value_name = "DATE", requires = "sked")]
    pub from: Option<String>,

    /// Join what is kept and hear no sound again where copies do not go together
    #[arg(long)]
    pub as_kept: bool,

    /// Begin each line with the names of the copies that bear most of it
    #[arg(long, conflicts_with = "json")]
    pub bearers: bool,

    /// Print doubtful characters like the others, or visibly marked (on a terminal marked
    /// is usual, elsewhere plain)
    #[arg(long, value_enum, conflicts_with = "json")]
    pub doubt: Option<Doubt>,

    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}
