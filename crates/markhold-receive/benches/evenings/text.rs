//! What is sent: invented traffic. Calls begin with Q, which no country holds; places and
//! people are made up.

use super::draw::Draw;
use super::languages::{GERMAN, POLISH, SPANISH};

/// What a message is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Matter {
    /// Prose with a few numbers.
    Prose,
    /// Short exchanges: calls, reports, names.
    Calls,
    /// Groups of four or five figures.
    Figures,
    /// Observations in groups, words between them.
    Weather,
    /// The same few letters over and over, as a tape loop sends them.
    Rows,
    /// Letters in groups of five.
    Letters,
    /// Prose with signs that only the American figures row has where they stand.
    Signs,
    German,
    Spanish,
    Polish,
    /// A bit of everything, as a bulletin is.
    Mixed,
}

const SUBJECTS: [&str; 16] = [
    "THE HARBOUR WATCH",
    "A RETIRED CLOCKMAKER",
    "OUR SECOND MACHINE",
    "THE CLUB AT TALLOW BRIDGE",
    "EVERY STATION ON THE NET",
    "MY NEIGHBOUR",
    "THE OLD AERIAL",
    "NOBODY HERE",
    "THE GIRL FROM THE BAKERY",
    "A STRONG SIGNAL",
    "THE WIND",
    "THE MAN WITH THE FERRY",
    "THIS RECEIVER",
    "HALF THE VILLAGE",
    "THE NEW VALVE",
    "A THICK FOG",
];
const VERBS: [&str; 16] = [
    "CAME DOWN",
    "KEPT QUIET",
    "WAS HEARD AGAIN",
    "NEEDS MORE OIL",
    "STOPPED PRINTING",
    "TOOK THE LONG WAY HOME",
    "WENT UP THE MAST",
    "COULD NOT BE REPAIRED",
    "ANSWERED AT ONCE",
    "ASKED FOR A REPEAT",
    "BROKE TWO INSULATORS",
    "DRIFTED UP THE BAND",
    "SENT A LONG REPORT",
    "LOST ITS PAPER",
    "LIT THE LAMP",
    "WORKED ALL WINTER",
];
const WHENS: [&str; 14] = [
    "LAST NIGHT",
    "BEFORE THE FROST",
    "ON SUNDAY",
    "AFTER DARK",
    "WHEN THE TIDE TURNED",
    "WITHOUT A WORD",
    "FOR THE THIRD TIME",
    "DURING THE STORM",
    "NEAR THE QUARRY",
    "ALL THE SAME",
    "AT THE EDGE OF THE MARSH",
    "UNDER A CLEAR SKY",
    "IN THE AFTERNOON",
    "WITH MUCH NOISE",
];
const NAMES: [&str; 10] = [
    "ODDA", "TAMSIN", "BRAM", "ILKO", "WENNA", "JORUN", "PELL", "SUVI", "MARTEK", "RHO",
];
const PLACES: [&str; 10] = [
    "TALLOW BRIDGE",
    "EAST QUILLY",
    "NORDHAVE",
    "PUMICE BAY",
    "OLD STANTLE",
    "VARN",
    "LOWER MIRE",
    "SKERRYHOLT",
    "DUNE END",
    "KARROWAY",
];
/// Longest line; 69 characters are usual (common practice).
const LINE: usize = 68;

/// An endless message of one matter, lines ended by return and line feed.
pub fn message(matter: Matter, draw: &mut Draw, glyphs: usize) -> String {
    let mut text = String::new();
    while text.len() < glyphs {
        let part = match matter {
            Matter::Mixed => {
                [Matter::Prose, Matter::Calls, Matter::Prose, Matter::Weather][draw.below(4)]
            }
            matter => matter,
        };
        text += &wrapped(&passage(part, draw));
    }
    text
}

fn passage(matter: Matter, draw: &mut Draw) -> String {
    let several = 2 + draw.below(3);
    let join = |each: &mut dyn FnMut() -> String, with: &str, count: usize| {
        (0..count).map(|_| each()).collect::<Vec<_>>().join(with)
    };
    match matter {
        Matter::Prose | Matter::Mixed => join(&mut || sentence(draw), ". ", several),
        Matter::German => join(&mut || GERMAN.sentence(draw), ". ", several),
        Matter::Spanish => join(&mut || SPANISH.sentence(draw), ". ", several),
        Matter::Polish => join(&mut || POLISH.sentence(draw), ". ", several),
        Matter::Signs => join(&mut || signs(draw), "; ", several),
        Matter::Calls => exchange(draw),
        Matter::Figures => {
            let length = 4 + draw.below(2);
            join(&mut || figures(draw, length), " ", 12)
        }
        Matter::Weather => weather(draw),
        Matter::Rows => {
            let row = draw.pick(&["RY", "RYRY", "SG", "EEEEE ", "QWERTYUIOP ", "TEST "]);
            row.repeat(66 / row.len())
        }
        Matter::Letters => join(&mut || letters(draw, 5), " ", 11),
    }
}

fn sentence(draw: &mut Draw) -> String {
    let mut words = format!(
        "{} {} {}",
        draw.pick(&SUBJECTS),
        draw.pick(&VERBS),
        draw.pick(&WHENS)
    );
    if draw.chance(0.3) {
        words += &format!(", {} {}", draw.pick(&NAMES), draw.pick(&VERBS));
    }
    if draw.chance(0.2) {
        let length = 1 + draw.below(4);
        words += &format!(" IN {} {}", draw.pick(&PLACES), figures(draw, length));
    }
    words
}

fn signs(draw: &mut Draw) -> String {
    let sign = draw.pick(&["$", "#", "&", "\"", "'", "!"]);
    let length = 2 + draw.below(3);
    match sign {
        "$" | "#" => format!("{} PAID {sign}{}", draw.pick(&NAMES), figures(draw, length)),
        "&" => format!("{} & {}", draw.pick(&NAMES), sentence(draw)),
        "\"" => format!("\"{}\" SAID {}", sentence(draw), draw.pick(&NAMES)),
        "'" => format!("{}'S {}", draw.pick(&NAMES), draw.pick(&PLACES)),
        _ => format!("{}!", sentence(draw)),
    }
}

/// An invented call sign.
pub fn call(draw: &mut Draw) -> String {
    let (area, length) = (draw.below(10), 2 + draw.below(2));
    let before = if draw.chance(0.5) {
        letters(draw, 1)
    } else {
        String::new()
    };
    format!("Q{before}{area}{}", letters(draw, length))
}

fn exchange(draw: &mut Draw) -> String {
    let (to, from) = (call(draw), call(draw));
    let report = draw.pick(&["599", "579", "559", "449", "588"]);
    let number = 1 + draw.below(400);
    match draw.below(4) {
        0 => format!("CQ CQ CQ DE {from} {from} {from} PSE K"),
        1 => format!("{to} {to} DE {from} {from} UR {report} {report} {number:03} {number:03} BK"),
        2 => format!(
            "{to} DE {from} TNX FER CALL. NAME {} {} QTH {} HW? {to} DE {from} K",
            draw.pick(&NAMES),
            draw.pick(&NAMES),
            draw.pick(&PLACES)
        ),
        _ => format!("{to} DE {from} R R QSL 73 ES GL {} SK", draw.pick(&NAMES)),
    }
}

fn weather(draw: &mut Draw) -> String {
    let (day, hour) = (1 + draw.below(28), draw.pick(&["00", "06", "12", "18"]));
    let groups: Vec<String> = (0..6)
        .map(|i| format!("{}{}", i + 1, figures(draw, 4)))
        .collect();
    let wind = 5 * draw.below(36);
    format!(
        "{} {day:02}{hour} {} WIND {wind:03}/{} TEMP {}-{}",
        draw.pick(&PLACES),
        groups.join(" "),
        5 + draw.below(40),
        draw.below(20),
        20 + draw.below(10),
    )
}

fn figures(draw: &mut Draw, count: usize) -> String {
    (0..count).map(|_| one(draw, b'0', 10)).collect()
}

fn letters(draw: &mut Draw, count: usize) -> String {
    (0..count).map(|_| one(draw, b'A', 26)).collect()
}

fn one(draw: &mut Draw, first: u8, count: usize) -> char {
    char::from(first + draw.below(count) as u8)
}

/// The passage in lines, the last ended as well.
fn wrapped(passage: &str) -> String {
    let (mut text, mut column) = (String::new(), 0);
    for word in passage.split(' ') {
        if column > 0 && column + 1 + word.len() > LINE {
            text += "\r\n";
            column = 0;
        } else if column > 0 {
            text.push(' ');
            column += 1;
        }
        text += word;
        column += word.len();
    }
    text + "\r\n"
}
