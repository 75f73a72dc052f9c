//! What an evening keeps in memory is bounded: what is older is on the shelf. After four times as
//! many hours of invented copy the sum of all reports and the sheet hold as much as before, and a
//! page that opens then is told as much.

mod counting;

use counting::{COUNTING, Counting};
use markhold_desk::plain_machine;
use markhold_desk::say::{Opening, Say};
use markhold_desk::sheet::{AT_ONCE, Gap, PieceRows, Place, Sheet};
use markhold_event::{Character, Event, Signal};
use markhold_station::report::{Followed, InputReport};
use markhold_station::{Report, Snapshot};

#[path = "../../../markhold-station/src/paper/testing.rs"]
mod testing;

#[global_allocator]
static ALLOCATOR: Counting = COUNTING;

/// What a page is told when it opens, bytes: one that takes nothing holds no more.
const AT_FIRST: usize = 1_000_000;

/// Everything that is bounded is full by then: the sheet's 4000 lines, which are short ones here, two
/// hours of drift, 200 signals and gaps.
const HOURS: u32 = 3;

/// Characters a second: teleprinter copy at 75 baud without a pause.
const PER_S: u32 = 10;

/// Seconds of one sender; then another one sends.
const TURN_S: u32 = 30;

/// Growth that is none: queues double their room, words have lengths.
const SAME: f64 = 1.1;

/// All that one room of a desk holds of an evening.
#[derive(Default)]
struct Held {
    sum: Snapshot,
    sheet: Option<Sheet>,
    second: u32,
    /// Characters of a line, its end included.
    line: u32,
}

impl Held {
    fn listen(&mut self, hours: u32) {
        let until = self.second + hours * 3600;
        while self.second < until {
            self.hear();
            self.second += 1;
        }
    }

    /// One second of it.
    fn hear(&mut self) {
        let (at_s, id) = (f64::from(self.second), self.second / TURN_S);
        let signal = Signal {
            begin_s: f64::from(id * TURN_S),
            until_s: at_s,
            // Nobody goes on where another one sent.
            mark_hz: 1000.0 + f64::from(id % 40) * 40.0,
            ..testing::signal(id)
        };
        for k in 0..PER_S {
            let character = character(self.line, id, at_s + f64::from(k) / f64::from(PER_S), k);
            self.tell(Event::Early(character.clone()));
            self.tell(Event::Character(character));
        }
        let followed = Followed {
            signal: signal.clone(),
            quality: Some(0.9),
            characters: 1,
            copied: true,
        };
        self.sum.take(&Report::Followed(vec![followed]));
        if self.second % TURN_S == TURN_S - 1 {
            self.tell(Event::Ended(signal));
            self.lose(at_s);
        }
        self.sum.until_s = at_s;
        self.sheet().changes();
    }

    fn tell(&mut self, event: Event) {
        self.sheet().take(&event);
        self.sum.take(&Report::Event(event));
    }

    fn lose(&mut self, at_s: f64) {
        let lost = InputReport::Gap { at_s, lost_s: 0.5 };
        Gap::of(&lost)
            .into_iter()
            .for_each(|gap| self.sheet().gap(gap));
        self.sum.take(&Report::Input(lost));
    }

    fn sheet(&mut self) -> &mut Sheet {
        self.sheet
            .get_or_insert_with(|| Sheet::new(plain_machine()))
    }

    /// Bytes of what a page is told when it opens: the sum, and the latest of the sheet.
    fn told(&mut self) -> (usize, usize) {
        let mut latest = self.sum.latest(600.0);
        let sheet = self.sheet().latest(None, AT_ONCE).0;
        let sum = Say::Snapshot(&Opening::of(&mut latest)).json();
        (sum.len(), json(&sheet).len())
    }

    /// The whole sheet as a page comes to it, which asks for what stands above, and the most that it is told at
    /// once, bytes.
    fn asked_for(&mut self) -> (Vec<PieceRows>, usize) {
        let (mut pieces, mut most, mut above) = (Vec::new(), 0, None::<Place>);
        loop {
            let (mut told, more) = self.sheet().latest(above, AT_ONCE);
            most = most.max(json(&told).len());
            join(&mut told, &mut pieces);
            pieces = told;
            match more {
                Some(place) => above = Some(place),
                None => return (pieces, most),
            }
        }
    }
}

/// What was told later stands above: a piece of which the rest was there goes on with it.
fn join(above: &mut Vec<PieceRows>, below: &mut Vec<PieceRows>) {
    if let (Some(last), Some(first)) = (above.last_mut(), below.first_mut())
        && last.piece == first.piece
    {
        assert_eq!(last.from + last.rows.len(), first.from);
        last.rows.append(&mut first.rows);
        below.remove(0);
    }
    above.append(below);
}

fn json(pieces: &[PieceRows]) -> String {
    serde_json::to_string(pieces).expect("JSON")
}

/// Characters of a short line and of a long one, their ends included.
const LINES: [u32; 2] = [14, 72];

/// Every tenth is doubtful.
fn character(line: u32, id: u32, start_s: f64, k: u32) -> Character {
    let number = (start_s * f64::from(PER_S)).round() as u32;
    let glyph = match number % line {
        0 => '\r',
        1 => '\n',
        n => char::from(b'A' + (n % 26) as u8),
    };
    let mut character = testing::character(id, start_s, glyph);
    if k == 0 {
        character.probability = 0.6;
    }
    character
}

#[test]
fn an_evening_four_times_as_long_holds_no_more() {
    let before = ALLOCATOR.held();
    let mut evening = Held {
        line: LINES[0],
        ..Held::default()
    };
    evening.listen(HOURS);
    let (held, told) = (ALLOCATOR.since(before), evening.told());
    evening.listen(3 * HOURS);
    let (held_later, told_later) = (ALLOCATOR.since(before), evening.told());
    println!(
        "after {HOURS} h {:.1} MB are held and a page is told {:.2} and {:.2} MB; after {} h {:.1} MB, \
         and {:.2} and {:.2} MB",
        megabytes(held),
        megabytes(told.0),
        megabytes(told.1),
        4 * HOURS,
        megabytes(held_later),
        megabytes(told_later.0),
        megabytes(told_later.1),
    );
    assert!(
        grows(held, held_later) < SAME,
        "{held} to {held_later} bytes"
    );
    for (one, later) in [(told.0, told_later.0), (told.1, told_later.1)] {
        assert!(grows(one, later) < SAME, "{one} to {later} bytes told");
    }
}

/// Whatever the lines are, a page is told little at first, and comes to all of the sheet by asking.
#[test]
fn a_full_sheet_is_told_in_pieces() {
    for line in LINES {
        let mut evening = Held {
            line,
            ..Held::default()
        };
        evening.listen(8);
        let told = evening.told();
        let (pieces, most) = evening.asked_for();
        let whole = evening.sheet().whole();
        println!(
            "lines of {line}: a page is told {:.2} and {:.2} MB at first, then {:.2} MB at once, {:.2} MB in all",
            megabytes(told.0),
            megabytes(told.1),
            megabytes(most),
            megabytes(json(&whole).len()),
        );
        assert!(told.0 + told.1 < AT_FIRST, "{told:?} bytes of {line}");
        assert!(most < AT_FIRST, "{most} bytes at once");
        assert_eq!(pieces, whole);
    }
}

/// Fifty pages that open at once hold little beside what they share.
#[test]
fn a_page_that_opens_copies_little() {
    let mut evening = Held {
        line: LINES[0],
        ..Held::default()
    };
    evening.listen(1);
    let before = ALLOCATOR.held();
    let latest = evening.sum.latest(600.0);
    let held = ALLOCATOR.since(before);
    println!("an hour's page copies {:.2} MB", megabytes(held));
    assert_eq!(
        latest.sheet.len(),
        4_000,
        "ten minutes, and no more than that"
    );
    assert_eq!(evening.sum.sheet.back(), latest.sheet.back());
    let all = evening.sum.sheet_dropped as usize + evening.sum.sheet.len();
    assert_eq!(latest.sheet_dropped as usize + latest.sheet.len(), all);
    assert!(held < 2 << 20, "{held} bytes");
}

fn megabytes(bytes: usize) -> f64 {
    bytes as f64 / 1e6
}

fn grows(one: usize, later: usize) -> f64 {
    later as f64 / one as f64
}
