//! The keys of a machine in the settings file, each with its meaning.

/// Key, what it says, unit and range.
pub const KEYS: [(&str, &str); 28] = [
    ("columns", "characters in one line, 20 to 200"),
    (
        "margin_lamp",
        "column from which the margin lamp is lit; 0 = no lamp",
    ),
    (
        "at_margin",
        "pile-up = all in the last column; new-line = returns by itself",
    ),
    (
        "return_s",
        "s for a full line, 0 to 5; ASSUMED: measure yours with --test return",
    ),
    ("figures", "figures row: us or ita2"),
    ("lacks", "characters of that row it has no type for"),
    ("unshift_on_space", "a space returns it to letters"),
    ("blank", "what combination 32 does: still or steps"),
    ("rate_baud", "modulation rate, baud, 10 to 300"),
    ("stop_units", "stop element, units, 1 to 3"),
    (
        "line_end",
        "sent at the end of a line: CR, LF, LTRS, BLANK in order",
    ),
    (
        "fill",
        "until the carriage is home: LTRS, CR, BLANK or hold (mark)",
    ),
    (
        "shift_after_space",
        "send the figures shift again after a space",
    ),
    ("shift_after_line", "send the shift again in each line"),
    (
        "longest_word",
        "longest word that is kept whole, characters, 0 to 200",
    ),
    (
        "word_hold_s",
        "s a word waits at the margin when nothing more comes, 0 to 60",
    ),
    ("replacement", "printed for what it lacks"),
    (
        "doubt_mark",
        "printed for a doubtful character; empty = as it was read",
    ),
    (
        "overprint",
        "a return without line feed prints over its line",
    ),
    ("empty_lines", "most empty lines in a row, 0 to 100"),
    ("bells_per_minute", "most bells in a minute, 0 to 600"),
    ("who_are_you", "pass \"who are you\" on to its answer-back"),
    (
        "garble_stop",
        "doubtful characters in a row that stop it, 0 to 1000; 0 = never",
    ),
    (
        "garble_resume",
        "sure characters in a row that start it again, 1 to 50",
    ),
    ("garble_note", "printed where it stopped"),
    ("motor", "whether its motor is switched"),
    ("run_up_s", "s until the motor runs at speed, 0 to 60"),
    (
        "motor_off_after_s",
        "s of rest after which it is switched off, 1 to 86400",
    ),
];

/// Where remarks begin, so that they stand below each other.
const REMARKS: usize = 30;

/// A table of the settings file with a remark on every key.
pub fn remarked(table: &str) -> String {
    let remarked = |line: &str| {
        let key = line.split(" = ").next().unwrap_or_default();
        match KEYS.iter().find(|known| known.0 == key) {
            Some((_, remark)) => format!("{line:REMARKS$} # {remark}\n"),
            None => format!("{line}\n"),
        }
    };
    table.lines().map(remarked).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_page::kinds;

    #[test]
    fn every_key_has_its_remark_and_the_machine_stays_the_same() {
        for kind in kinds() {
            let table = toml::to_string(&kind.machine).expect("a table");
            let text = remarked(&table);
            for line in text.lines() {
                assert!(line.contains(" # "), "{line}");
                assert!(line.chars().count() <= 110, "{line}");
            }
            let again: markhold_page::Machine = toml::from_str(&text).expect("a table");
            assert_eq!(again, kind.machine);
        }
    }
}
