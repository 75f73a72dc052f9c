//! What `markhold shelf` may be told.

use super::asked::{Choose, Delete, Note};
use super::compare::Compare;
use super::join::Join;
use crate::choices::{Figures, Mark};
use crate::copy::options::Doubt;
use crate::wanted::{LanguageArgs, RoomArgs};
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// What was heard on earlier evenings: find it, read it, hand it on.
///
/// Every evening is kept without asking: its sound, its copy with probabilities and
/// times, what was found and how the receiver was set. Sound makes room for later sound
/// when the limit is reached; copy stays.
#[derive(Args, Debug)]
#[command(after_help = "\
EVENING is a number of the list, a date such as 2026-03-21, or last.

Exit code: 0 something is there, 1 nothing was found, 2 something went wrong.

Examples:
  markhold shelf list
  markhold shelf search Q1ABC --from 2026-01-01
  markhold shelf show last")]
pub struct Options {
    /// Folder of the shelf, if not the usual one ($XDG_DATA_HOME/markhold/shelf)
    #[arg(long = "shelf", value_name = "DIR", global = true)]
    pub place: Option<PathBuf>,

    /// The settings file, if not the usual one
    #[arg(long, value_name = "FILE", global = true)]
    pub settings: Option<PathBuf>,

    /// Times in UTC rather than those of the station
    #[arg(long, global = true)]
    pub utc: bool,

    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What can be done with the shelf.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// List the evenings
    #[command(after_help = "\
Examples:
  markhold shelf list --from 2026-03-01
  markhold shelf list --all --json > evenings.jsonl")]
    List(List),
    /// Print the copy of an evening, each line with its time
    #[command(after_help = "\
Examples:
  markhold shelf show last
  markhold shelf show 2026-03-21 --doubt marked | less")]
    Show(Show),
    /// Find words in the copy of all evenings
    ///
    /// A line is found if it holds all words; a word finds every word that begins with
    /// it. Quoted words must follow each other. Case does not matter. After these come lines that
    /// hold the words only if doubtful characters are something else than they print, each with
    /// the probability of that: a garbled call is found.
    #[command(after_help = "\
Examples:
  markhold shelf search bulletin marsh
  markhold shelf search '\"good evening\"' --from 2026-01-01 --until 2026-03-31")]
    Search(Search),
    /// Make one good copy out of several bad ones
    ///
    /// What the signals of these evenings repeat is found, whatever each lacks or has besides, and
    /// every character is weighed by all copies that bear it. What differs on purpose (a date,
    /// a serial, a price) is shown in each wording between < and >; nothing is merged there.
    /// What stands between [ and ] is doubtful. Where a copy does not go with the others, its kept
    /// sound is heard again by what is known of its signal by now; nothing of that is kept.
    #[command(after_help = "\
EVENING/N is signal N of an evening alone.

Examples:
  markhold shelf join 12 14 17
  markhold shelf join 2026-03-21 2026-03-28/2 --bearers --doubt marked")]
    Join(Join),
    /// Lay the copy of an evening beside the published text
    ///
    /// Every difference is told: where the copy is wrong and says so, where it is wrong and
    /// sure, and where the text is not what was sent (the copy is sure of several characters on
    /// end). Case and layout do not count. Then one figure for the evening, whether the
    /// probabilities of its characters came true, and one line to hand on, without station,
    /// date or words.
    #[command(after_help = "\
Examples:
  markhold shelf compare last bulletin.txt
  markhold shelf compare 12/2 - < bulletin.txt")]
    Compare(Compare),
    /// Hand an evening on: as text, as a page, for scripts or for other programs
    #[command(after_help = "\
SigMF holds the sound too: a folder with a file of samples and one that describes them.

Examples:
  markhold shelf export last --format html --out evening.html
  markhold shelf export 12 --format sigmf --out evening-12")]
    Export(Export),
    /// Copy an evening again from its kept sound, with today's receiver
    ///
    /// The new reading stands beside the old one, which is kept. It is shown instead if
    /// all sound of the evening was still there and it is surer of itself: characters expected to
    /// be right less those expected to be wrong. What a person chose stays. The receiver is set as it was when the
    /// evening was heard, except as told here; language joins unless the settings file or
    /// --language says otherwise.
    ///
    /// All evenings are copied by any number of workers: the same command on other computers that
    /// share the shelf's folder joins in. An evening that a worker had when it died is taken over
    /// by another; each gets one new reading.
    #[command(after_help = "\
Examples:
  markhold shelf again last
  markhold shelf again all --workers 4
  markhold shelf again 12 --rate 50 --mark higher --language off")]
    Again(Again),
    /// Learn from the sure copy on the shelf what to expect, and say how much that is
    ///
    /// Words of letters that the signal alone said surely, at least twice: nothing that
    /// language changed or made sure, nothing doubtful, no figures, calls or serials. It is
    /// used where learn = true stands under [shelf] in the settings file, or with --learn;
    /// then what is new is learned whenever copying begins. It stays in this archive.
    #[command(after_help = "\
With EVENING (or all) what was forgotten is learned again.

Examples:
  markhold shelf learn
  markhold shelf learn 2026-03-21")]
    Learn(Learn),
    /// Forget what evenings taught; their copy stays
    ///
    /// Nothing is learned from them any more, until markhold shelf learn EVENING. What the
    /// others taught stays.
    #[command(after_help = "\
Examples:
  markhold shelf forget all
  markhold shelf forget 2026-03-21")]
    Forget(Forget),
    /// Put a recording made elsewhere on the shelf and copy it
    #[command(after_help = "\
Examples:
  markhold shelf add evening.wav
  markhold shelf add club-net.flac --begin 2026-03-21T19:30")]
    Add(Add),
    /// Keep a note with an evening, or whom it was heard from; without either, print them
    #[command(after_help = "\
Examples:
  markhold shelf note last 'first evening with the long wire' --station Q1ABC
  markhold shelf note 12")]
    Note(Note),
    /// Choose which reading of an evening stands, whatever the shelf would choose
    ///
    /// It is the one that is shown, searched, handed on and learned from. The others stay. best lets the
    /// shelf choose again: the reading that is surest of itself, copied from all of the sound.
    #[command(after_help = "\
Examples:
  markhold shelf choose last 1
  markhold shelf choose 2026-03-21 best")]
    Choose(Choose),
    /// Take an evening off the shelf for good: its sound, its copy and its note
    #[command(after_help = "\
Examples:
  markhold shelf delete 12
  markhold shelf delete 12 --yes")]
    Delete(Delete),
    /// Check the archive and its files
    #[command(after_help = "\
Examples:
  markhold shelf check
  markhold shelf check --shelf /media/stick/shelf")]
    Check(Check),
}

impl Command {
    /// What it says of reading and room.
    pub fn wanted(&self) -> (LanguageArgs, RoomArgs) {
        match self {
            Command::Again(again) => (again.reading.clone(), RoomArgs::default()),
            Command::Add(add) => (add.reading.clone(), add.room.clone()),
            _ => Default::default(),
        }
    }
}

#[derive(Args, Debug)]
pub struct Span {
    /// Only from this date (and time) on
    #[arg(long, value_name = "DATE")]
    pub from: Option<String>,

    /// Only until the end of this date, or before this time
    #[arg(long, value_name = "DATE")]
    pub until: Option<String>,
}

#[derive(Args, Debug)]
pub struct List {
    #[command(flatten)]
    pub span: Span,

    /// All evenings, not only the latest twenty
    #[arg(long)]
    pub all: bool,

    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Which {
    /// The evening: a number, a date or last
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// A reading other than the best one, counted from 1
    #[arg(long, value_name = "N")]
    pub reading: Option<usize>,
}

#[derive(Args, Debug)]
pub struct Show {
    #[command(flatten)]
    pub which: Which,

    /// Print doubtful characters like the others, or visibly marked (on a terminal marked
    /// is usual, elsewhere plain)
    #[arg(long, value_enum, conflicts_with = "json")]
    pub doubt: Option<Doubt>,

    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Learn {
    /// Learn from this evening again (a number, a date, last, or all) that was forgotten
    #[arg(value_name = "EVENING")]
    pub evening: Option<String>,

    /// Print one JSON object about what was learned
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Forget {
    /// The evening: a number, a date, last, or all
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// Print one JSON object about what is still known
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Search {
    /// Words to find
    #[arg(required = true, value_name = "WORD")]
    pub words: Vec<String>,

    #[command(flatten)]
    pub span: Span,

    /// Most lines to find, the latest first
    #[arg(long, value_name = "N", default_value_t = 100)]
    pub most: usize,

    /// Also in readings that a better one replaced
    #[arg(long)]
    pub all_readings: bool,

    /// Only what is printed, not what doubtful characters may be instead
    #[arg(long)]
    pub as_printed: bool,

    /// Print doubtful characters like the others, or visibly marked (on a terminal marked
    /// is usual, elsewhere plain)
    #[arg(long, value_enum, conflicts_with = "json")]
    pub doubt: Option<Doubt>,

    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

/// What to make of an evening.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// The text as it was copied.
    Text,
    /// A page for a browser, doubt marked with its cause.
    Html,
    /// One JSON object per line, every character with its probability.
    Jsonl,
    /// Sound, signals and text for programs that read SigMF.
    Sigmf,
}

#[derive(Args, Debug)]
pub struct Export {
    #[command(flatten)]
    pub which: Which,

    /// What to make
    #[arg(long, value_enum)]
    pub format: Format,

    /// File to write (a folder for sigmf); - for standard output
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,

    /// How doubtful characters stand in text
    #[arg(long, value_enum, default_value = "plain")]
    pub doubt: Doubt,
}

#[derive(Args, Debug)]
pub struct Again {
    /// The evening: a number, a date, last, or all of which sound is kept
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// With all: so many evenings at once on this computer [default: 1]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub workers: Option<u16>,

    /// Copy every signal
    #[arg(long, help_heading = "Signal", conflicts_with = "strongest")]
    pub all: bool,

    /// Copy only the strongest signal
    #[arg(long, help_heading = "Signal")]
    pub strongest: bool,

    /// Copy the signal whose middle is nearest to this audio frequency
    #[arg(
        long,
        help_heading = "Signal",
        value_name = "HZ",
        conflicts_with = "all"
    )]
    pub at: Option<f64>,

    /// Distance of the tones
    #[arg(long, help_heading = "Signal", value_name = "HZ")]
    pub shift: Option<f64>,

    /// Modulation rate
    #[arg(long, help_heading = "Signal", value_name = "BAUD")]
    pub rate: Option<f64>,

    /// Which tone is mark
    #[arg(long, help_heading = "Signal", value_enum)]
    pub mark: Option<Mark>,

    /// Figures row
    #[arg(long, help_heading = "Signal", value_enum)]
    pub figures: Option<Figures>,

    /// A space in figures returns to letters
    #[arg(long, help_heading = "Signal", value_name = "BOOL", num_args = 0..=1, default_missing_value = "true", require_equals = true)]
    pub unshift_on_space: Option<bool>,

    #[command(flatten)]
    pub reading: LanguageArgs,

    /// Print one JSON object about the new reading
    #[arg(long)]
    pub json: bool,
}

impl Again {
    /// Whether all evenings are meant.
    pub fn is_all(&self) -> bool {
        self.evening.eq_ignore_ascii_case("all")
    }
}

#[derive(Args, Debug)]
pub struct Add {
    /// The recording: WAV, FLAC, Ogg Vorbis or MP3
    #[arg(value_name = "FILE")]
    pub file: PathBuf,

    /// When it begins, if its own time stamp does not tell (read as UTC)
    #[arg(long, value_name = "TIME")]
    pub begin: Option<String>,

    /// Copy only the strongest signal
    #[arg(long)]
    pub strongest: bool,

    #[command(flatten)]
    pub reading: LanguageArgs,

    #[command(flatten)]
    pub room: RoomArgs,
}

#[derive(Args, Debug)]
pub struct Check {
    /// Print one JSON object
    #[arg(long)]
    pub json: bool,
}
