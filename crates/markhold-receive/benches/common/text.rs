//! Invented bulletins to send: prose, reports full of figures, and calls beginning with Q.
//!
//! Only characters that both figures rows hold in the same place are used, so the codes
//! are the same whichever the receiver takes.

use rand::RngExt;
use rand::SeedableRng;
use rand::seq::IndexedRandom;
use rand_xoshiro::Xoshiro256PlusPlus;

/// What draws everything that a seed decides about a message and its scene.
pub type Draw = Xoshiro256PlusPlus;

/// The draw of a seed; `what` keeps cases with the same seed apart.
pub fn draw(what: &str, seed: u64) -> Draw {
    // FNV-1a, 64 bit (Fowler, Noll and Vo): any good mixing of the name would do.
    let name = what.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    Draw::seed_from_u64(name ^ seed)
}

const SENTENCES: [&str; 20] = [
    "GOOD EVENING TO EVERYONE ON THE CIRCUIT",
    "THE MEETING AT THE OLD ROPEWALK BEGAN LATE BECAUSE THE KEY COULD NOT BE FOUND",
    "TWO MACHINES WERE SHOWN RUNNING AND A THIRD WAS SHOWN NOT RUNNING",
    "THE FAULT WAS A BRUSH NO LONGER THAN A FINGERNAIL",
    "WHOEVER LEFT A JAR OF GREEN OIL ON THE WINDOW SILL MAY HAVE IT BACK",
    "AFTER SUNSET THE BAND GOES LONG AND THE NEAR STATIONS FADE TOGETHER",
    "ONE TONE WAS OFTEN GONE WHILE THE OTHER STOOD LIKE A WALL",
    "PLEASE LET THE RECEIVER WARM BEFORE THE NET AND TOUCH THE DIAL AS LITTLE AS YOU CAN",
    "THE PAPER SUPPLY IS GOOD FOR THE WINTER BUT RIBBONS ARE SHORT",
    "A VISITOR ASKED WHY THE BELL RINGS AND NOBODY AGREED ON THE ANSWER",
    "THE SCHOOL AT PELLOW MARSH COPIED THE WHOLE BULLETIN WITHOUT A BROKEN LINE",
    "IF THE COPY IS NONSENSE AT AN EVEN PACE THEN TRY THE OTHER SIDEBAND FIRST",
    "NEVER OPEN THE LOOP WITH THE SUPPLY CONNECTED",
    "THE QUIZ WAS WON BY THE LIGHTHOUSE FOR THE FOURTH YEAR, SO IT WILL BE HARDER",
    "JUST BEFORE MIDNIGHT THE NOISE FELL AND VERY WEAK SIGNALS COULD BE READ",
    "SPARE PARTS, BOOKS AND A WORKING TAPE READER ARE ON THE TABLE BY THE DOOR",
    "THE EXPECTED STORM PASSED TO THE SOUTH AND ONLY ITS STATIC REACHED US",
    "THANKS TO ALL WHO SENT REPORTS, EVEN TO THE ONE WRITTEN IN CRAYON",
    "NEXT WEEK WE MEASURE EXACTLY HOW LONG A CARRIAGE TAKES TO RETURN",
    "UNTIL THEN KEEP YOUR SELECTORS CLEAN AND YOUR LOGS HONEST",
];

const PLACES: [&str; 8] = [
    "PELLOW MARSH",
    "THE ROPEWALK",
    "UPPER QUILL",
    "SAND HAVEN",
    "NORTH JETTY",
    "FOXLEY VALE",
    "GREY ISLAND",
    "ZINC HILL",
];

/// About `characters` printed characters, cut at that many: a heading, then prose and
/// reports in any order.
pub fn message(draw: &mut Draw, characters: usize) -> String {
    let mut text = format!("DE {} {}\n", call(draw), pick(draw, &PLACES));
    while text.len() < characters {
        if draw.random_bool(0.6) {
            text.push_str(&prose(draw));
        } else {
            text.push_str(&report(draw));
        }
        text.push('\n');
    }
    text.truncate(characters);
    text
}

/// So many printed characters of prose alone, or of reports alone.
#[allow(dead_code, reason = "not every bench that shares this file sends it")]
pub fn pure(draw: &mut Draw, characters: usize, of_prose: bool) -> String {
    let mut text = String::new();
    while text.len() < characters {
        text.push_str(&if of_prose { prose(draw) } else { report(draw) });
        text.push('\n');
    }
    text.truncate(characters);
    text
}

/// An invented call: Q, a figure, two or three letters.
pub fn call(draw: &mut Draw) -> String {
    let letters: String = (0..draw.random_range(2..=3))
        .map(|_| char::from(draw.random_range(b'A'..=b'Z')))
        .collect();
    format!("Q{}{letters}", draw.random_range(0..=9))
}

/// Two to four sentences in lines of at most 69 characters, a telegraph page's width.
fn prose(draw: &mut Draw) -> String {
    let (mut text, mut column) = (String::new(), 0);
    for _ in 0..draw.random_range(2..=4) {
        for word in pick(draw, &SENTENCES).split(' ') {
            if column + word.len() > 67 {
                text.push('\n');
                column = 0;
            }
            text.push_str(word);
            text.push(' ');
            column += word.len() + 1;
        }
        text.pop();
        text.push_str(". ");
        column += 1;
    }
    text.trim_end().to_string()
}

/// Two to five lines of calls, times, frequencies and readings.
fn report(draw: &mut Draw) -> String {
    let lines: Vec<String> = (0..draw.random_range(2..=5)).map(|_| line(draw)).collect();
    lines.join("\n")
}

fn line(draw: &mut Draw) -> String {
    let mut number = |low: u32, high: u32| draw.random_range(low..=high);
    let (hour, minute) = (number(0, 23), number(0, 59));
    let (a, b, c) = (number(100, 999), number(1, 9), number(10, 99));
    match number(0, 3) {
        0 => format!(
            "{} DE {} NR {a} AT {hour:02}{minute:02}",
            call(draw),
            call(draw)
        ),
        1 => format!("FREQ 3{a}.{b} / 7{a}.{b} KHZ FROM {hour:02}:{minute:02} UTC"),
        2 => format!("{} {c}/{b} ({a}) {b}.{c} ?", pick(draw, &PLACES)),
        _ => format!("{} {c}-{a}-{c}, {a} {c}{a} {a}{b}", call(draw)),
    }
}

fn pick<'a>(draw: &mut Draw, list: &[&'a str]) -> &'a str {
    list.choose(draw).copied().unwrap_or_default()
}
