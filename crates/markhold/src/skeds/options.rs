//! What `markhold skeds` may be told.

use crate::machine::AlongArgs;
use crate::wanted::{LanguageArgs, RoomArgs};
use clap::{Args, Subcommand, ValueEnum};
use markhold_skeds::MarkOnAir;
use markhold_sound::Sideband;
use std::path::PathBuf;

/// Transmissions that come at set times: what is due, when, and where to set the dial.
///
/// They are kept on the shelf. Times are those of the sender's clock, in its own zone; they
/// are shown in the station's zone and in UTC.
#[derive(Args, Debug)]
#[command(after_help = "\
Exit code: 0 something is there, 1 nothing is, 2 something went wrong.

The receiver is described in the settings file:
  [receiver]
  shows = \"lower-carrier\"   # what its dial shows: or upper-carrier, mark, heard
  pitch_hz = 2210           # where the middle of the two tones belongs
  step_hz = 100             # the finest that can be read off the dial
  read_by = \"rigctld:127.0.0.1:4532\"   # a radio whose daemon tells where its dial stands
  up = \"clockwise\"          # or counter-clockwise
  warm_up_min = 30          # until it is known from its own evenings
  place = \"JO50\"            # where it stands: a locator, or degrees as \"50.5,10.9\"

Examples:
  markhold skeds add \"Low Marsh bulletin\" --at 2026-01-04T20:00 --zone Europe/London \\
      --rule \"FREQ=WEEKLY;BYDAY=SU\" --on 3595.2,mark --length 20
  markhold skeds next")]
pub struct Options {
    /// Folder of the shelf, if not the usual one ($XDG_DATA_HOME/markhold/shelf)
    #[arg(long = "shelf", value_name = "DIR", global = true)]
    pub place: Option<PathBuf>,

    /// The settings file, if not the usual one
    #[arg(long, value_name = "FILE", global = true)]
    pub settings: Option<PathBuf>,

    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What can be done with skeds.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// List all skeds with their numbers
    #[command(after_help = "\
Examples:
  markhold skeds list
  markhold skeds list --json > skeds.jsonl")]
    List(List),
    /// Add a sked
    ///
    /// With --at alone it comes once; rules make it come again. A rule is one of RFC 5545:
    /// FREQ=WEEKLY;BYDAY=TU,TH or FREQ=MONTHLY;BYDAY=1SU, with ;UNTIL=20261231 or ;COUNT=10 if
    /// it ends.
    #[command(after_help = "\
Examples:
  markhold skeds add \"Marsh net\" --at 2026-03-21T19:30 --on 7047.79,usb,2210
  markhold skeds add News --station Q1NEW --at 2026-01-05T21:00 --zone America/New_York \\
      --rule \"FREQ=DAILY\" --on 3597 --on 7052 --shift 170 --rate 45.45 --mark higher")]
    Add(Add),
    /// Change a sked: what is named here takes the place of what was there
    #[command(after_help = "\
Examples:
  markhold skeds change 3 --length 30 --on 3597.4
  markhold skeds change 3 --except 2026-12-27 --notes \"not at Christmas\"")]
    Change(Change),
    /// Remove a sked; what was kept of it stays
    #[command(after_help = "\
Examples:
  markhold skeds remove 3
  markhold skeds remove 3 --shelf /media/stick/shelf")]
    Remove(Remove),
    /// Say what is on now, what comes next, when to switch on and where to set the dial
    #[command(after_help = "\
Examples:
  markhold skeds next
  markhold skeds next --most 10 --sums")]
    Next(Next),
    /// List what became of each: kept, in which evening and how sure, or missed and why
    #[command(after_help = "\
Examples:
  markhold skeds past
  markhold skeds past --days 90 --json")]
    Past(Past),
    /// Print what a sked sends, as far as it is known by all that was kept of it
    ///
    /// The copies of the last two weeks that repeat the latest one are put together, those of
    /// other skeds of the same station and name too. This is done by itself whenever one more was
    /// kept while markhold runs, and here if it was not yet. What stands between [ and ] is
    /// doubtful, <117|118> differs on purpose. Then it says what is missing and when the next
    /// chance is.
    #[command(after_help = "\
Examples:
  markhold skeds known 3
  markhold skeds known 3 --json")]
    Known(Known),
    /// Tell where the dial stands now, or show that and what is known of it
    ///
    /// Told once an evening, markhold learns by itself from every sked that is copied then, until
    /// the dial is turned: how far off the dial is on that band, and, where it is known when the
    /// receiver was switched on, how it warms up. Where read_by in the settings file names a
    /// radio's daemon, nothing needs to be told.
    #[command(after_help = "\
Examples:
  markhold skeds dial 3597.9 --switched-on 19:40
  markhold skeds dial")]
    Dial(DialSaid),
    /// Tell where the dial stood when a sked was in tune, so that its error is learned
    ///
    /// Told on three evenings on a band, markhold says what this dial reads too high there;
    /// with minutes since it was switched on, how it warms up too.
    #[command(after_help = "\
Examples:
  markhold skeds heard 3 --dial 3597.9
  markhold skeds heard 3 --dial 3597.9 --middle 2180 --minutes-on 12")]
    Heard(Heard),
    /// Take in the events of a calendar file (iCalendar); - reads standard input
    ///
    /// What cannot be kept is named. Frequencies are found in the events' words by kHz or MHz.
    #[command(after_help = "\
Examples:
  markhold skeds import club.ics
  markhold skeds import --zone Europe/London club.ics")]
    Import(Import),
    /// Print a calendar file of all that comes within twelve months, in UTC, with alarms
    #[command(after_help = "\
Examples:
  markhold skeds export > skeds.ics
  markhold skeds export --alarm 30 --alarm 5 > skeds.ics")]
    Export(Export),
    /// Copy skeds while nobody is there: each at its time, until told to stop
    ///
    /// Some minutes before a sked an evening begins; it ends when the sender has been gone for
    /// some minutes or its time is up, and bears the sked's name on the shelf. A sked that was
    /// missed is listed with the cause. One markhold looks after the skeds of a shelf.
    #[command(after_help = "\
How long is waited stands in the settings file:
  [skeds]
  early_min = 5      # listening begins so long before
  late_min = 15      # a late sender is waited for so long beyond the usual end
  quiet_min = 5      # it is over when nothing was heard for so long
  overrun_min = 180  # or so long after its usual end

Examples:
  markhold skeds watch --input \"Line In\"
  markhold skeds watch --input \"Line In\" --to shack")]
    Watch(Box<Watch>),
    /// Print a unit of systemd that runs `markhold skeds watch` with the same options
    #[command(after_help = "\
Examples:
  markhold skeds service --input \"Line In\"
  markhold skeds service --input \"Line In\" --write")]
    Service(Box<Service>),
}

/// What is listened to while nobody is there.
#[derive(Args, Clone, Debug)]
pub struct Watch {
    /// Listen to this sound input: a part of its name is enough [default: the system's]
    #[arg(long, value_name = "NAME")]
    pub input: Option<String>,

    /// Which of its channels is heard, counted from 1
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub channel: u16,

    /// The sideband that the receiver is set to; by it is told which tone is mark
    #[arg(long, value_enum, value_name = "SIDE", default_value = "lower")]
    pub sideband: Side,

    #[command(flatten)]
    pub room: RoomArgs,

    #[command(flatten)]
    pub reading: LanguageArgs,

    /// Print along on this page printer
    ///
    /// Keep clear of loop, mains and moving parts; a machine that runs while nobody is there is
    /// your decision. Local codes and licensed practice come first.
    #[arg(long, value_name = "MACHINE", help_heading = "Machine")]
    pub to: Option<String>,

    #[command(flatten)]
    pub along: AlongArgs,
}

/// A unit to be written.
#[derive(Args, Clone, Debug)]
pub struct Service {
    #[command(flatten)]
    pub watch: Watch,

    /// Write it where systemd looks for this user's units, and say how it is begun
    #[arg(long)]
    pub write: bool,
}

/// A sideband, as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Side {
    /// The lower one.
    Lower,
    /// The upper one.
    Upper,
}

impl From<Side> for Sideband {
    fn from(side: Side) -> Self {
        match side {
            Side::Lower => Sideband::Lower,
            Side::Upper => Sideband::Upper,
        }
    }
}

#[derive(Args, Debug)]
pub struct Known {
    /// Its number in the list
    #[arg(value_name = "NUMBER")]
    pub id: i64,

    /// Print one JSON object
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct List {
    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

/// What there is to say of a sked.
#[derive(Args, Clone, Debug, Default)]
pub struct Said {
    /// Who sends it
    #[arg(long)]
    pub station: Option<String>,

    /// What is sent
    #[arg(long)]
    pub sends: Option<String>,

    /// When it begins, the first time, on the sender's clock: 2026-01-04T20:00
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,

    /// The sender's time zone, such as Europe/London [default: UTC]
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,

    /// A rule by which it comes again; may be given several times, "" for none
    #[arg(long = "rule", value_name = "RULE")]
    pub rules: Option<Vec<String>>,

    /// When it does not come: 2026-12-27, or with a time; "" for never
    #[arg(long, value_name = "TIME")]
    pub except: Option<Vec<String>>,

    /// When it comes besides; "" for never
    #[arg(long, value_name = "TIME")]
    pub also: Option<Vec<String>>,

    /// A frequency, kHz, and what it means: 3597 (the middle of the tones), 3595.2,mark, or a
    /// carrier with the middle of the sender's tones, 7047.79,usb,2210
    #[arg(long = "on", value_name = "KHZ[,MEANING]")]
    pub channels: Option<Vec<String>>,

    /// Distance of the two tones, Hz
    #[arg(long, value_name = "HZ")]
    pub shift: Option<f64>,

    /// Modulation rate
    #[arg(long, value_name = "BAUD")]
    pub rate: Option<f64>,

    /// Which of the two radio frequencies is mark: higher (common) or lower
    #[arg(long, value_name = "WHICH")]
    pub mark: Option<Mark>,

    /// How long it lasts, minutes [default: 30]
    #[arg(long, value_name = "MIN")]
    pub length: Option<f64>,

    /// Where the sender stands: a locator such as JO02, or degrees north and east as 51.5,-0.25
    #[arg(long = "place", value_name = "PLACE", allow_hyphen_values = true)]
    pub stands: Option<String>,

    /// Print each bulletin on this page printer once it was kept; "" for none
    ///
    /// One of the settings file that has a way to it. Keep clear of loop, mains and moving parts;
    /// a machine that runs while nobody is there is your decision. Local codes and licensed
    /// practice come first.
    #[arg(long, value_name = "MACHINE")]
    pub print_on: Option<String>,

    /// Anything else
    #[arg(long)]
    pub notes: Option<String>,
}

#[derive(Args, Debug)]
pub struct Add {
    /// What it is called
    pub name: String,

    #[command(flatten)]
    pub said: Said,

    /// Print it as one JSON object
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Change {
    /// Its number in the list
    #[arg(value_name = "NUMBER")]
    pub id: i64,

    /// What it is called from now on
    #[arg(long)]
    pub name: Option<String>,

    #[command(flatten)]
    pub said: Said,

    /// Print it as one JSON object
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Remove {
    /// Its number in the list
    #[arg(value_name = "NUMBER")]
    pub id: i64,
}

#[derive(Args, Debug)]
pub struct Next {
    /// Most transmissions to tell, those that are on now included
    #[arg(long, value_name = "N", default_value_t = 3)]
    pub most: usize,

    /// Show how the dial's settings are reckoned
    #[arg(long)]
    pub sums: bool,

    /// As if it were this time, such as 2026-01-04T19:00:00Z
    #[arg(long, value_name = "TIME")]
    pub now: Option<jiff::Timestamp>,

    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Past {
    /// How many days back
    #[arg(long, value_name = "N", default_value_t = 31, value_parser = clap::value_parser!(u16).range(1..=3660))]
    pub days: u16,

    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Heard {
    /// Its number in the list
    #[arg(value_name = "NUMBER")]
    pub id: i64,

    /// What the dial read, kHz
    #[arg(long, value_name = "KHZ")]
    pub dial: f64,

    /// Where the middle of the two tones was heard, Hz [default: the receiver's pitch]
    #[arg(long, value_name = "HZ")]
    pub middle: Option<f64>,

    /// Minutes since the receiver was switched on
    #[arg(long, value_name = "MIN")]
    pub minutes_on: Option<f64>,

    /// Print one JSON object
    #[arg(long)]
    pub json: bool,
}

/// Where the dial stands.
#[derive(Args, Debug)]
pub struct DialSaid {
    /// What it reads, kHz; without anything: what is known is shown
    #[arg(value_name = "KHZ")]
    pub khz: Option<f64>,

    /// When the receiver was switched on: now, or a time of today or last night such as 19:40
    #[arg(long, value_name = "TIME")]
    pub switched_on: Option<String>,

    /// It stands somewhere else now
    #[arg(long, conflicts_with = "khz")]
    pub forget: bool,

    /// Print one JSON object
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Import {
    /// The calendar file
    #[arg(value_name = "FILE")]
    pub file: PathBuf,

    /// The zone of times that have none [default: the station's]
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,

    /// Print one JSON object per line: the skeds, then what was left out
    #[arg(long)]
    pub json: bool,
}

#[derive(Args, Debug)]
pub struct Export {
    /// Ring so many minutes before; may be given several times [default: the receiver's warm-up]
    #[arg(long = "alarm", value_name = "MIN", value_parser = clap::value_parser!(u32).range(..=10_080))]
    pub alarms: Option<Vec<u32>>,
}

/// Which radio frequency is mark, as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Mark {
    /// The higher one.
    Higher,
    /// The lower one.
    Lower,
}

impl From<Mark> for MarkOnAir {
    fn from(mark: Mark) -> Self {
        match mark {
            Mark::Higher => MarkOnAir::Higher,
            Mark::Lower => MarkOnAir::Lower,
        }
    }
}
