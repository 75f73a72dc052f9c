//! Years of evenings on a shelf: what they take and how fast they are found again.
//!
//! `cargo bench -p markhold-shelf --bench shelf -- 3650` makes ten years of evenings
//! (the usual is one year) of 300 lines each and prints the figures.

use markhold_code::{FiguresRow, Shift, Symbol, lookup};
use markhold_event::{
    Alternative, Character, CharacterId, Doubt, Event, Sense, Signal, SignalId, Witnesses,
};
use markhold_shelf::{Evening, Filter, KeepSettings, Keeper, Shelf};
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

const LINES: usize = 300;

/// Words of the copy; a rare one is added to one evening.
const WORDS: [&str; 12] = [
    "BULLETIN", "OF", "THE", "MARSH", "CLUB", "NET", "AT", "NINE", "WEATHER", "PUMP", "Q1ABC",
    "EVENING",
];

fn main() {
    let evenings = std::env::args()
        .filter_map(|word| word.parse().ok())
        .next()
        .unwrap_or(365);
    let folder = tempfile::tempdir().expect("a folder");
    let begin = Instant::now();
    for evening in 0..evenings {
        keep(folder.path(), evening, evening == evenings / 2);
    }
    println!(
        "{evenings} evenings of {LINES} lines kept in {:.0} s",
        begin.elapsed().as_secs_f64()
    );
    let bytes = std::fs::metadata(folder.path().join("markhold.sqlite")).map_or(0, |m| m.len());
    let characters = (evenings as usize * LINES * 66) as f64;
    println!(
        "{:.1} MB, {:.1} bytes a character",
        bytes as f64 / 1e6,
        bytes as f64 / characters
    );
    let shelf = time("open", || Shelf::open(folder.path()).expect("a shelf"));
    time("list the latest 20", || {
        shelf.evenings(None, None, 20).expect("evenings")
    });
    time("list all", || {
        shelf.evenings(None, None, usize::MAX).expect("evenings")
    });
    for asked in [
        "heron",
        "hero",
        "marsh",
        "marsh pump",
        "\"of the\"",
        "nothing",
    ] {
        let hits = time(&format!("search {asked}"), || {
            shelf.search(asked, &Filter::default()).expect("hits")
        });
        println!("    {} lines", hits.len());
    }
    drop(shelf);
    let mut shelf = Shelf::open(folder.path()).expect("a shelf");
    let lesson = time("learn", || shelf.learn().expect("a lesson"));
    println!(
        "    {} words of {} evenings, {} contexts, {:.1} MB",
        lesson.words,
        lesson.evenings,
        lesson.learned.contexts(),
        lesson.learned.to_bytes().len() as f64 / 1e6
    );
    time("learn when nothing is new", || {
        shelf.learn().expect("a lesson")
    });
    let reading = shelf.evening(evenings / 2).expect("an evening").readings[0].id;
    time("show an evening", || {
        let mut count = 0;
        shelf
            .events(reading, &mut |event| {
                count += usize::from(black_box(event) == Event::Found(signal(9)))
            })
            .expect("copy");
        count
    });
}

fn time<T>(what: &str, mut work: impl FnMut() -> T) -> T {
    let begin = Instant::now();
    let result = work();
    println!("{what}: {:.1} ms", begin.elapsed().as_secs_f64() * 1e3);
    result
}

fn keep(place: &Path, evening: i64, rare: bool) {
    let begin: jiff::ZonedDateTime = "2026-03-21T19:30:00Z[UTC]".parse().expect("a time");
    let begin = begin + jiff::SignedDuration::from_hours(24 * evening);
    let about = Evening {
        begin,
        input: "bench".to_string(),
        rate: 8_000,
        settings: serde_json::Value::Null,
    };
    let keeper = Keeper::begin(place, about, KeepSettings::default()).expect("a keeper");
    keeper.event(&Event::Found(signal(1)));
    let mut at = evening as usize;
    let mut start_s = 1.0;
    for line in 0..LINES {
        let mut text = String::new();
        while text.len() < 40 {
            at = (at * 7 + line + 3) % 1_009;
            text += WORDS[at % WORDS.len()];
            text.push(' ');
        }
        // A name that comes nowhere else, twice: the most there is to learn.
        let name = name(at + line * 1_009 + evening as usize * 302_713);
        text += &format!("{name} {name} ");
        if rare && line == 7 {
            text += "HERON";
        }
        for c in text.chars().chain("\r\n".chars()) {
            keeper.event(&Event::Character(character(
                c,
                start_s,
                at.is_multiple_of(23),
            )));
            start_s += 0.165;
        }
    }
    keeper.event(&Event::Ended(signal(1)));
    keeper.finish().expect("finished");
}

fn name(seed: usize) -> String {
    const SYLLABLES: [&str; 16] = [
        "MAR", "SHO", "KE", "WIL", "LOW", "HE", "RON", "TA", "BEN", "DUN", "FEL", "GRI", "POL",
        "VA", "NOR", "ES",
    ];
    let pick = |k: u32| SYLLABLES[(seed.wrapping_mul(0x9E37_79B1) >> (8 + 4 * k)) % 16];
    (0..4).map(pick).collect()
}

fn character(c: char, start_s: f64, doubtful: bool) -> Character {
    let symbol = match c {
        ' ' => Symbol::Space,
        '\r' => Symbol::CarriageReturn,
        '\n' => Symbol::LineFeed,
        other => Symbol::Print(other),
    };
    let (code, shift) = lookup(symbol, FiguresRow::Ita2).expect("in the alphabet");
    let probability = if doubtful { 0.1 } else { 0.0 };
    let other = Alternative {
        code,
        symbol,
        probability,
    };
    Character {
        signal: SignalId(1),
        id: CharacterId::of_start(start_s),
        start_s,
        code,
        shift: shift.unwrap_or(Shift::Letters),
        symbol,
        probability: 1.0 - 2.0 * probability,
        present: 1.0,
        codes: None,
        alternatives: [other; 2],
        doubt: doubtful.then_some(Doubt::Fade),
        witnesses: Some(Witnesses {
            signal: Alternative {
                probability: 1.0 - 2.0 * probability,
                ..other
            },
            both: Alternative {
                probability: 1.0 - 2.0 * probability,
                ..other
            },
            from_signal: 1.0 - 2.0 * probability,
            prose: 1.0,
        }),
    }
}

fn signal(id: u32) -> Signal {
    Signal {
        id: SignalId(id),
        begin_s: 1.0,
        until_s: 3_000.0,
        mark_hz: 1275.0,
        space_hz: 1445.0,
        shift_hz: 170.0,
        usual_shift_hz: Some(170.0),
        rate_baud: 45.45,
        usual_rate_baud: Some(1.0 / 0.022),
        sense: Sense::LowerTone,
        stop_units: None,
        figures_row: None,
        unshift_on_space: None,
        es_n0_db: 20.0,
        snr_3khz_db: 1.8,
        drift_hz: 0.0,
        drift_hz_per_min: 0.0,
    }
}
