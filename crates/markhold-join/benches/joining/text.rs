//! Invented bulletins, as codes.

use markhold_code::{Code, EncodeOptions, FiguresRow, encode_lossy};
use rand::RngExt;
use rand_xoshiro::Xoshiro256PlusPlus;

const WORDS: &str = "THE OF CLUB NET MARSH LOW STATION TONIGHT WILL BE HEARD ON MEMBERS ARE ASKED TO \
    LISTEN FOR BULLETIN FROM NEW RECEIVER PRINTER RIBBON PAPER MOTOR GOVERNOR LOOP CURRENT AND \
    RELAY WAS REPAIRED BY OUR SECRETARY WHO THANKS ALL THAT SENT REPORTS OVER LAST WEEK BAND \
    CONDITIONS POOR UNTIL MIDNIGHT BUT BETTER TOWARD MORNING WITH STRONG SIGNALS SOUTH NORTH \
    AERIAL MAST FELL IN STORM SO WE WORK FROM HUT BESIDE RIVER TEA SERVED AFTER MEETING BRING \
    YOUR OWN CUP SPARE KEYS WANTED PLEASE WRITE NEXT YEAR BOOK OLD MACHINES SOLD";

/// What changes from night to night.
#[derive(Clone, PartialEq)]
pub struct Head {
    pub serial: u32,
    pub day: u32,
    pub hour: u32,
    pub minute: u32,
    pub price: (u32, u32),
}

impl Head {
    pub fn new(random: &mut Xoshiro256PlusPlus) -> Self {
        Self {
            serial: random.random_range(100..1_000),
            day: random.random_range(1..29),
            hour: random.random_range(0..24),
            minute: random.random_range(0..60),
            price: (random.random_range(1..100), random.random_range(0..100)),
        }
    }
}

impl Head {
    /// The same with another date, serial, time or price.
    pub fn changed(&self, what: usize, random: &mut Xoshiro256PlusPlus) -> Self {
        let new = Head::new(random);
        let mut changed = self.clone();
        match what {
            0 => changed.serial = new.serial,
            1 => changed.day = new.day,
            2 => (changed.hour, changed.minute) = (new.hour, new.minute),
            _ => changed.price = new.price,
        }
        match changed == *self {
            true => self.changed(what, random),
            false => changed,
        }
    }
}

/// A bulletin of some 700 characters.
pub fn bulletin(head: &Head, random: &mut Xoshiro256PlusPlus) -> String {
    let Head {
        serial,
        day,
        hour,
        minute,
        price: (pounds, pence),
    } = head;
    let [first, second] = [250, 350].map(|length| paragraph(random, length));
    format!(
        "LOW MARSH CLUB BULLETIN NR {serial} OF {day:02} NOVEMBER\nNET AT {hour:02}{minute:02} ON 3595 \
         KHZ\n\n{first}RIBBONS ARE SOLD AT {pounds}.{pence:02} EACH\n{second}END OF BULLETIN\n"
    )
}

/// A paragraph of about so many characters, in lines of 64.
pub fn paragraph(random: &mut Xoshiro256PlusPlus, length: usize) -> String {
    let words: Vec<&str> = WORDS.split_whitespace().collect();
    let (mut text, mut line) = (String::new(), 0);
    while text.len() < length {
        let word = words[random.random_range(0..words.len())];
        if line + word.len() > 64 {
            text += "\n";
            line = 0;
        }
        text += word;
        line += word.len() + 1;
        let after = match random.random_range(0..14) {
            0 => ", ".to_string(),
            1 => ". ".to_string(),
            2 => format!(" {} ", random.random_range(2..2_000)),
            _ => " ".to_string(),
        };
        text += &after;
    }
    text + "\n"
}

pub fn codes(text: &str) -> Vec<Code> {
    encode_lossy(text, FiguresRow::Ita2, EncodeOptions::default(), '-')
}
