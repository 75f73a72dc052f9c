//! What is on the shelf after the week.

use crate::plan::{Bulletin, DIAL_READS_HIGH_HZ};
use jiff::Timestamp;
use markhold_shelf::{KeepSettings, Keeper, Shelf};
use markhold_skeds::watch::{Run, RunState};
use std::ops::Range;
use std::path::Path;
use std::time::{Duration, Instant};

/// Characters that may be missing where the program was told to end, and where it was killed: as
/// many as were sent while nobody listened, six a second, and one that was cut at each seam.
const AT_A_RESTART: usize = 6 + 2;
const AT_A_KILL: usize = 3 + 2;

/// Looks whether every bulletin is there. `broken` are the times of the restart and of the kill.
pub fn look_through(place: &Path, bulletins: &[Bulletin], broken: [i64; 2]) {
    let shelf = Shelf::open(place).expect("the shelf");
    assert_eq!(shelf.check().expect("checked").damage, [""; 0]);
    let runs = shelf.runs(Timestamp::MIN).expect("runs");
    assert_eq!(runs.len(), bulletins.len(), "each sked once: {runs:#?}");
    let all = everything(&shelf);
    let mut missing = 0;
    for bulletin in bulletins {
        let title = format!("bulletin {}", bulletin.number);
        let run = runs.iter().find(|run| run.title == title).expect("its run");
        assert_eq!(run.state, RunState::Kept, "{run:?}");
        let mut text = String::new();
        for (evening, signals) in &run.kept_in {
            text += &copy(&shelf, *evening, Some(signals));
            let names = shelf.evening(*evening).expect("an evening").names;
            assert!(signals.is_empty() || names.contains(&title), "{names:?}");
        }
        let inside = |at: &i64| (bulletin.from..bulletin.until).contains(at);
        let most = match broken.iter().position(inside) {
            None => 0,
            Some(0) => AT_A_RESTART,
            Some(_) => AT_A_KILL,
        };
        let lost = lost(&bulletin.text, &text);
        assert!(
            lost.len() <= most,
            "{title}: {lost:?} of its characters are missing\n{text}\n{run:#?}\n{}",
            evenings_of(&shelf, run)
        );
        missing += lost.len();
        if !lost.is_empty() {
            let (kept, lost) = (lost.start, &bulletin.text[lost.clone()]);
            println!("{title}: missing after {kept} characters: {lost:?}");
        }
        assert_eq!(all.matches(&bulletin.mark()).count(), 1, "{title} once");
    }
    the_dial_was_learned(&shelf);
    let sent: usize = bulletins.iter().map(|b| b.text.len()).sum();
    println!(
        "{} bulletins, {sent} characters sent, {missing} missing",
        bulletins.len()
    );
}

/// Nobody filled in anything: what was copied told how far off the dial is.
fn the_dial_was_learned(shelf: &Shelf) {
    let evenings = shelf.dial_found().expect("what was found");
    let errors = evenings.iter().flat_map(|evening| &evening.found);
    let errors: Vec<f64> = errors.map(|found| found.reads_high_hz).collect();
    // Tones are found to a few Hz where they are 18 dB over the noise.
    let off = |error: &f64| (error - DIAL_READS_HIGH_HZ).abs();
    let worst = errors.iter().map(off).fold(0.0, f64::max);
    assert!(!errors.is_empty() && worst < 10.0, "{evenings:?}");
    println!(
        "the dial was told {} times on {} evenings, at most {worst:.1} Hz off",
        errors.len(),
        evenings.len()
    );
}

/// What is on the shelf where something of a run is missing, for whoever looks for the reason.
fn evenings_of(shelf: &Shelf, run: &Run) -> String {
    let mut words = String::new();
    for (evening, _) in &run.kept_in {
        let about = shelf.evening(*evening).expect("an evening");
        let (gaps, end) = (&about.gaps, about.end);
        words += &format!(
            "evening {evening} from {} to {end:?}, {gaps:?}\n",
            about.begin
        );
        for reading in &about.readings {
            let signals = shelf.signals(reading.id).expect("signals");
            let signals: Vec<_> = signals
                .iter()
                .map(|s| (s.number, s.latest().cloned()))
                .collect();
            words += &format!("  {reading:?}\n  {signals:?}\n");
        }
        words += &copy(shelf, *evening, None);
    }
    words
}

/// Which characters of what was sent are in no copy: it is there from its beginning on, up to its
/// end, and at most one piece between is not.
fn lost(sent: &str, copy: &str) -> Range<usize> {
    if copy.contains(sent) {
        return 0..0;
    }
    let begin = (0..sent.len()).rev().find(|to| copy.contains(&sent[..*to]));
    let end = (1..=sent.len()).find(|from| copy.contains(&sent[*from..]));
    let (begin, end) = (begin.unwrap_or(0), end.unwrap_or(sent.len()));
    begin..end.max(begin)
}

/// What is printed of an evening, or of some of its signals.
fn copy(shelf: &Shelf, evening: i64, signals: Option<&[u32]>) -> String {
    let about = shelf.evening(evening).expect("an evening");
    let Some(reading) = about.best_reading() else {
        return String::new();
    };
    let mut text = String::new();
    let mut take = |line: markhold_shelf::KeptLine| {
        if signals.is_none_or(|signals| signals.contains(&line.signal)) {
            let characters = line.characters().expect("details");
            text.extend(characters.iter().filter_map(|c| c.symbol.text()));
        }
    };
    shelf.lines(reading.id, &mut take).expect("lines");
    text
}

fn everything(shelf: &Shelf) -> String {
    let evenings = shelf.evenings(None, None, usize::MAX).expect("evenings");
    let texts = evenings.iter().map(|evening| copy(shelf, evening.id, None));
    texts.collect::<Vec<_>>().join("\n")
}

/// What the kill cost is copied again from the sound while the next evening is kept; here that
/// next one is a silent one after the week.
pub fn copied_to_the_end(place: &Path, end: i64) {
    let evening = markhold_shelf::Evening {
        begin: crate::plan::at(end).to_zoned_datetime(jiff::tz::TimeZone::UTC),
        input: "afterwards".into(),
        rate: 8000,
        settings: serde_json::json!({}),
    };
    let keeper = Keeper::begin(place, evening, KeepSettings::default()).expect("a keeper");
    keeper.sound(&[0.0; 8000]);
    let begun = Instant::now();
    let is_whole = || {
        let shelf = Shelf::open(place).expect("the shelf");
        let evenings = shelf.evenings(None, None, usize::MAX).expect("evenings");
        let whole = |e: &markhold_shelf::KeptEvening| {
            let reading = e.best_reading();
            reading.is_none_or(|r| r.copied_s >= r.heard_s - 0.6)
        };
        evenings.iter().filter(|e| e.end.is_some()).all(whole)
    };
    while !is_whole() {
        // It goes behind everybody, and a computer may be busy.
        assert!(begun.elapsed() < Duration::from_secs(600), "copied again");
        std::thread::sleep(Duration::from_millis(100));
    }
    keeper.finish().expect("finished");
}
