//! The keys of the settings file, table by table, each with its meaning, range and usual value.
//!
//! A test holds every list to what its reader knows.

use crate::machine::KEYS;

/// A table of the settings file: its head, what it is for, and its keys.
pub struct TableKeys {
    /// As it stands in the file.
    pub head: &'static str,
    /// What it is for.
    pub about: &'static str,
    /// Key and meaning, in the order in which a person needs them.
    pub keys: Vec<(&'static str, &'static str)>,
}

/// All tables.
pub fn tables() -> Vec<TableKeys> {
    let machine = MACHINE.iter().chain(&KEYS).copied().collect();
    let of = |head, about, keys: &[_]| TableKeys {
        head,
        about,
        keys: keys.to_vec(),
    };
    vec![
        of(
            "[receiver]",
            "the receiver and its dial, described once (docs/skeds.md)",
            &RECEIVER,
        ),
        of("[shelf]", "what is kept, and what language may do", &SHELF),
        of(
            "[skeds]",
            "how long a sked is waited for (docs/skeds.md)",
            &SKEDS,
        ),
        TableKeys {
            head: "[machine.NAME]",
            about: "a page printer; a table for each, NAME is yours (docs/paper.md)",
            keys: machine,
        },
        of(
            "[keyboard]",
            "the machine's own keyboard (docs/sending.md)",
            &KEYBOARD,
        ),
        of(
            "[transmitter]",
            "how a transmitter is fed and keyed (docs/sending.md)",
            &TRANSMITTER,
        ),
    ]
}

/// Those of a machine that are not about the machine itself.
const MACHINE: [(&str, &str); 6] = [
    (
        "way",
        "the way to it: serial:PORT, break:PORT, rts:PORT, dtr:PORT, tones, tones:OUTPUT, \
         tones-file:PATH, codes:PATH, codes:ADDRESS:PORT or listen:ADDRESS:PORT",
    ),
    (
        "kind",
        "the ready-made machine that the other keys change; markhold machine lists them",
    ),
    (
        "motor_wire",
        "the wire that switches the motor: rts or dtr, of the port of the way",
    ),
    (
        "mark_hz",
        "mark, for ways with tones, Hz, 100 to 5000; usually 2125",
    ),
    (
        "space_hz",
        "space, for ways with tones, Hz, 100 to 5000; usually 2295",
    ),
    (
        "patience_s",
        "s a better reading is waited for, 0 to 60; 0 prints along; usually 8",
    ),
];

const RECEIVER: [(&str, &str); 7] = [
    (
        "shows",
        "what the dial shows: lower-carrier, upper-carrier, mark or heard; usually lower-carrier",
    ),
    (
        "pitch_hz",
        "where the middle of the tones belongs, Hz, 50 to 5000; usually 2210",
    ),
    (
        "step_hz",
        "the finest that can be read off the dial, Hz; usually 0, any",
    ),
    (
        "up",
        "which way the dial turns up: clockwise or counter-clockwise; usually clockwise",
    ),
    (
        "warm_up_min",
        "minutes from switching on until it stands, 0 to 1440; usually 30",
    ),
    (
        "place",
        "where it stands, a locator or degrees north and east as in 54.2,8.9; for the sun",
    ),
    (
        "read_by",
        "the radio's daemon that tells where its dial stands: rigctld:127.0.0.1:4532; usually none",
    ),
];

const SHELF: [(&str, &str); 3] = [
    (
        "sound_limit",
        "most room for sound, from 10 MB on, as in \"40 GB\"; usually 20 GiB",
    ),
    (
        "language",
        "what language may do to the copy that is kept: off, mark or on; usually on",
    ),
    (
        "learn",
        "whether the shelf's own sure copy teaches what to expect; usually false",
    ),
];

const SKEDS: [(&str, &str); 4] = [
    (
        "early_min",
        "minutes before its time that an evening begins, 0 to 1440; usually 5",
    ),
    (
        "late_min",
        "minutes after its time that the sender is waited for, 0 to 1440; usually 15",
    ),
    (
        "quiet_min",
        "minutes after which a sender that went silent has gone, 0 to 1440; usually 5",
    ),
    (
        "overrun_min",
        "minutes that a sender who goes on is followed past the end, 0 to 1440; usually 180",
    ),
];

const KEYBOARD: [(&str, &str); 9] = [
    (
        "way",
        "the way from it: serial:PORT, cts:PORT, dsr:PORT, dcd:PORT, ri:PORT or codes:PATH; \
         usually none",
    ),
    (
        "rate_baud",
        "modulation rate, baud, 30 to 300; usually 45.45",
    ),
    (
        "inverted",
        "a status wire: asserted is space; usually false",
    ),
    (
        "supply",
        "the wire of the port, rts or dtr, that feeds its contact; usually none",
    ),
    ("figures", "figures row of its keys: us or ita2; usually us"),
    (
        "unshift_on_space",
        "a space returns the machine to letters; usually false",
    ),
    (
        "echo",
        "the machine's own printing in its line: suppressed or wanted; usually suppressed",
    ),
    (
        "break_s",
        "s of space that are a break, 0.1 to 5, no shorter than a character; usually 0.2",
    ),
    (
        "begins",
        "typing begins an over by itself while the transmitter is armed; usually false",
    ),
];

const TRANSMITTER: [(&str, &str); 31] = [
    ("call", "the station's call; without one nothing is sent"),
    (
        "way",
        "the way to the air: tones, tones:OUTPUT, serial:PORT, break:PORT, rts:PORT or dtr:PORT",
    ),
    (
        "key",
        "how it is keyed: rts, dtr, rts:PORT, dtr:PORT, rigctld:127.0.0.1:4532, command or by-hand",
    ),
    ("key_on", "the command that keys it, as a list of words"),
    ("key_off", "the command that unkeys it, as a list of words"),
    (
        "rate_baud",
        "modulation rate, baud, 30 to 300; usually 45.45",
    ),
    ("stop_units", "stop element, units, 1 to 3; usually 1.5"),
    (
        "inverted",
        "a wire that keys the line: asserted is mark; usually false",
    ),
    ("lower_hz", "the lower tone, Hz, 200 to 4000; usually 2125"),
    (
        "shift_hz",
        "distance of the tones, Hz, 20 to 1000; usually 170",
    ),
    (
        "sideband",
        "what the transmitter is set to, lower or upper: decides which tone is mark; usually lower",
    ),
    (
        "reversed",
        "mark is the lower radio frequency; usually false",
    ),
    (
        "level",
        "peak amplitude, 0.001 to 1 = full scale; usually 0.5",
    ),
    ("figures", "figures row: us or ita2; usually us"),
    ("columns", "longest line, characters, 20 to 200; usually 69"),
    (
        "line_end",
        "sent at the end of a line: CR, LF, LTRS, BLANK in order; usually CR CR LF LTRS",
    ),
    (
        "shift_after_space",
        "send the figures shift again after a space; usually true",
    ),
    (
        "idle",
        "sent while there is nothing to send: none, letters or blank; usually none",
    ),
    (
        "wait_on_s",
        "s from the key to mark, 0.02 to 5; usually 0.2",
    ),
    (
        "mark_on_s",
        "s of mark before the text, a character to 10; usually 2",
    ),
    (
        "mark_off_s",
        "s of mark after the text, 0 to 5; usually 0.5",
    ),
    (
        "wait_off_s",
        "s from mark to unkeying, 0.02 to 5; usually 0.1",
    ),
    ("longest_over_s", "longest over, s, to 3600; usually 300"),
    (
        "ask",
        "a daemon that knows whether the radio transmits, whatever keys it; usually none",
    ),
    (
        "wired_back",
        "the port's inputs are wired to its outputs, and that is known; usually false",
    ),
    (
        "tones",
        "own, or received: those of the pair that is received when an over begins; usually own",
    ),
    (
        "audio_from_hz",
        "the lowest audio that the transmitter carries, Hz, 20 to 3000; usually 300",
    ),
    (
        "audio_to_hz",
        "the highest audio that the transmitter carries, Hz, to 20000; usually 2700",
    ),
    (
        "identify_every_s",
        "s after which the call is sent again, 30 to 3600; usually 600",
    ),
    (
        "morse_every_s",
        "s after which the call is sent in Morse too, 30 to 3600; usually never",
    ),
    (
        "morse_wpm",
        "speed of that, words a minute, 8 to 40; usually 20",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::{read_tables, reader_of};
    use std::collections::BTreeSet;

    /// What a reader says that it knows, asked with a key that nobody has.
    fn known(table: &str) -> BTreeSet<String> {
        let name = table.trim_matches(['[', ']']);
        let text = format!("[{name}]\nnone_such = 1\n");
        let reader = reader_of(name.split('.').next().unwrap_or(name));
        let said = reader(&text).expect_err("an unknown key");
        let words = said.split('`').skip(1).step_by(2).skip(1);
        words.map(String::from).collect()
    }

    #[test]
    fn every_key_is_listed_and_every_listed_key_is_known() {
        for table in tables() {
            let listed: BTreeSet<String> = table.keys.iter().map(|key| key.0.into()).collect();
            assert_eq!(listed, known(table.head), "{}", table.head);
        }
    }

    #[test]
    fn every_table_that_is_read_is_listed() {
        let name = |head: &str| -> String {
            let name = head.trim_matches(['[', ']']);
            name.split('.').next().unwrap_or(name).into()
        };
        let listed: BTreeSet<String> = tables().iter().map(|table| name(table.head)).collect();
        assert_eq!(listed, read_tables().map(String::from).collect());
    }
}
