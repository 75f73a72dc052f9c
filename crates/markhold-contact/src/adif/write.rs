//! Writes ADI.

use super::Record;

/// What a file begins with.
pub const HEADER: &str = concat!(
    "Contacts by radioteletype, times in UTC\n",
    "<ADIF_VER:5>3.1.7<PROGRAMID:8>markhold<EOH>\n"
);

/// A record as text, a line. What is no character of the standard becomes a question mark.
pub fn write(record: &Record) -> String {
    let mut text = String::new();
    for (name, value) in record.fields() {
        let plain: String = value.chars().map(of_the_standard).collect();
        text += &format!("<{name}:{}>{plain}", plain.len());
    }
    text += "<EOR>\n";
    text
}

/// ADIF 3.1.7, data type Character.
fn of_the_standard(c: char) -> char {
    match c {
        ' '..='~' => c,
        _ => '?',
    }
}
