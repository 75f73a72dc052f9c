//! A machine as it stands in the settings file: every key optional, in plain types.

use super::values::{line_end, number, one_of, replacement, sign, whole, wrong};
use super::{AtMargin, Blank, Figures, Fill, Machine, MachineError, kind, kinds};
use markhold_code::{Symbol, lookup};
use serde::{Deserialize, Serialize};

/// The keys of the settings file. What is missing comes from the kind.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Description {
    kind: Option<String>,
    columns: Option<i64>,
    margin_lamp: Option<i64>,
    at_margin: Option<String>,
    return_s: Option<f64>,
    figures: Option<String>,
    lacks: Option<String>,
    unshift_on_space: Option<bool>,
    blank: Option<String>,
    rate_baud: Option<f64>,
    stop_units: Option<f64>,
    line_end: Option<String>,
    fill: Option<String>,
    shift_after_space: Option<bool>,
    shift_after_line: Option<bool>,
    longest_word: Option<i64>,
    word_hold_s: Option<f64>,
    replacement: Option<String>,
    doubt_mark: Option<String>,
    overprint: Option<bool>,
    empty_lines: Option<i64>,
    bells_per_minute: Option<i64>,
    who_are_you: Option<bool>,
    garble_stop: Option<i64>,
    garble_resume: Option<i64>,
    garble_note: Option<String>,
    motor: Option<bool>,
    run_up_s: Option<f64>,
    motor_off_after_s: Option<f64>,
}

const AT_MARGIN: [(&str, AtMargin); 2] = [
    ("pile-up", AtMargin::PileUp),
    ("new-line", AtMargin::NewLine),
];
const BLANKS: [(&str, Blank); 2] = [("still", Blank::Still), ("steps", Blank::Steps)];
const ROWS: [(&str, Figures); 2] = [("us", Figures::Us), ("ita2", Figures::Ita2)];
const FILLS: [(&str, Fill); 4] = [
    ("LTRS", Fill::Letters),
    ("CR", Fill::Return),
    ("BLANK", Fill::Blank),
    ("hold", Fill::Hold),
];

impl TryFrom<Description> for Machine {
    type Error = MachineError;

    fn try_from(description: Description) -> Result<Machine, MachineError> {
        description.resolve()
    }
}

impl Description {
    /// The machine described, its values checked one by one and together.
    pub(super) fn resolve(self) -> Result<Machine, MachineError> {
        let base = base(self.kind.as_deref())?;
        let columns = whole("columns", self.columns, base.columns, 20..=200)?;
        // A lamp's place is told from the right margin, so it moves along with it.
        let lamp = match base.margin_lamp {
            0 => 0,
            lamp => (columns + lamp).saturating_sub(base.columns).max(1),
        };
        let machine = Machine {
            columns,
            margin_lamp: whole("margin_lamp", self.margin_lamp, lamp, 0..=columns)?,
            at_margin: one_of("at_margin", self.at_margin, base.at_margin, &AT_MARGIN)?,
            return_s: number("return_s", self.return_s, base.return_s, 0.0..=5.0)?,
            figures: one_of("figures", self.figures, base.figures, &ROWS)?,
            lacks: self.lacks.unwrap_or(base.lacks).to_uppercase(),
            unshift_on_space: self.unshift_on_space.unwrap_or(base.unshift_on_space),
            blank: one_of("blank", self.blank, base.blank, &BLANKS)?,
            rate_baud: number("rate_baud", self.rate_baud, base.rate_baud, 10.0..=300.0)?,
            stop_units: number("stop_units", self.stop_units, base.stop_units, 1.0..=3.0)?,
            line_end: line_end(self.line_end, base.line_end)?,
            fill: one_of("fill", self.fill, base.fill, &FILLS)?,
            shift_after_space: self.shift_after_space.unwrap_or(base.shift_after_space),
            shift_after_line: self.shift_after_line.unwrap_or(base.shift_after_line),
            longest_word: whole(
                "longest_word",
                self.longest_word,
                base.longest_word,
                0..=200,
            )?,
            word_hold_s: number(
                "word_hold_s",
                self.word_hold_s,
                base.word_hold_s,
                0.0..=60.0,
            )?,
            replacement: replacement(self.replacement, base.replacement)?,
            doubt_mark: sign("doubt_mark", self.doubt_mark, base.doubt_mark)?,
            overprint: self.overprint.unwrap_or(base.overprint),
            empty_lines: whole("empty_lines", self.empty_lines, base.empty_lines, 0..=100)?,
            bells_per_minute: whole(
                "bells_per_minute",
                self.bells_per_minute,
                base.bells_per_minute,
                0..=600,
            )?,
            who_are_you: self.who_are_you.unwrap_or(base.who_are_you),
            garble_stop: whole("garble_stop", self.garble_stop, base.garble_stop, 0..=1000)?,
            garble_resume: whole(
                "garble_resume",
                self.garble_resume,
                base.garble_resume,
                1..=50,
            )?,
            garble_note: self.garble_note.unwrap_or(base.garble_note).to_uppercase(),
            motor: self.motor.unwrap_or(base.motor),
            run_up_s: number("run_up_s", self.run_up_s, base.run_up_s, 0.0..=60.0)?,
            motor_off_after_s: number(
                "motor_off_after_s",
                self.motor_off_after_s,
                base.motor_off_after_s,
                1.0..=86_400.0,
            )?,
        };
        together(&machine)?;
        Ok(machine)
    }
}

/// The kind that the other keys change.
fn base(name: Option<&str>) -> Result<Machine, MachineError> {
    let Some(name) = name else {
        return Ok(Machine::default());
    };
    kind(name).map(|kind| kind.machine.clone()).ok_or_else(|| {
        let names: Vec<&str> = kinds().iter().map(|kind| kind.name).collect();
        wrong(
            "kind",
            format!("{name:?}"),
            format!("one of {}", names.join(", ")),
            "take the nearest and change it by further keys",
        )
    })
}

/// What no single key can be blamed for alone.
fn together(machine: &Machine) -> Result<(), MachineError> {
    let printable = |key, text: &str| match text.chars().find(|&c| !machine.has(c)) {
        None => Ok(()),
        Some(c) => Err(wrong(
            key,
            format!("{text:?}"),
            format!("characters that the machine has ({} row)", machine.figures),
            &format!("it has no {c:?}: choose another, or change figures or lacks"),
        )),
    };
    printable("replacement", &machine.replacement.to_string())?;
    printable(
        "doubt_mark",
        &machine.doubt_mark.map(String::from).unwrap_or_default(),
    )?;
    printable("garble_note", &machine.garble_note.replace(' ', ""))?;
    if let Some(c) = machine
        .lacks
        .chars()
        .find(|&c| lookup(Symbol::Print(c), machine.figures).is_none())
    {
        return Err(wrong(
            "lacks",
            format!("{:?}", machine.lacks),
            format!("characters of the {} row", machine.figures),
            &format!("leave out {c:?}: the row has none anyway"),
        ));
    }
    let blanks = machine
        .line_end
        .codes()
        .contains(&markhold_code::Code::BLANK);
    if machine.blank == Blank::Steps && (machine.fill == Fill::Blank || blanks) {
        let (key, found) = match machine.fill {
            Fill::Blank => ("fill", "\"BLANK\"".to_string()),
            _ => ("line_end", format!("\"{}\"", machine.line_end)),
        };
        let hint = "use LTRS, or say blank = \"still\" if nothing moves on a blank";
        return Err(wrong(
            key,
            found,
            "no blanks where blank = \"steps\"".into(),
            hint,
        ));
    }
    Ok(())
}

fn name_of<T: PartialEq>(value: T, known: &[(&str, T)]) -> Option<String> {
    known
        .iter()
        .find(|entry| entry.1 == value)
        .map(|entry| entry.0.to_string())
}

impl From<Machine> for Description {
    /// Every key, so that what is written can be read without knowing the kind.
    fn from(machine: Machine) -> Self {
        Description {
            kind: None,
            columns: Some(machine.columns.into()),
            margin_lamp: Some(machine.margin_lamp.into()),
            at_margin: name_of(machine.at_margin, &AT_MARGIN),
            return_s: Some(machine.return_s),
            figures: name_of(machine.figures, &ROWS),
            lacks: Some(machine.lacks),
            unshift_on_space: Some(machine.unshift_on_space),
            blank: name_of(machine.blank, &BLANKS),
            rate_baud: Some(machine.rate_baud),
            stop_units: Some(machine.stop_units),
            line_end: Some(machine.line_end.to_string()),
            fill: name_of(machine.fill, &FILLS),
            shift_after_space: Some(machine.shift_after_space),
            shift_after_line: Some(machine.shift_after_line),
            longest_word: Some(machine.longest_word.into()),
            word_hold_s: Some(machine.word_hold_s),
            replacement: Some(machine.replacement.into()),
            doubt_mark: Some(machine.doubt_mark.map(String::from).unwrap_or_default()),
            overprint: Some(machine.overprint),
            empty_lines: Some(machine.empty_lines.into()),
            bells_per_minute: Some(machine.bells_per_minute.into()),
            who_are_you: Some(machine.who_are_you),
            garble_stop: Some(machine.garble_stop.into()),
            garble_resume: Some(machine.garble_resume.into()),
            garble_note: Some(machine.garble_note),
            motor: Some(machine.motor),
            run_up_s: Some(machine.run_up_s),
            motor_off_after_s: Some(machine.motor_off_after_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn error(text: &str) -> String {
        toml::from_str::<Machine>(text).expect_err(text).to_string()
    }

    #[test]
    fn every_key_is_optional() {
        assert_eq!(toml::from_str::<Machine>("").unwrap(), Machine::default());
        let machine: Machine = toml::from_str("kind = \"ita2-69-50\"\nrate_baud = 45").unwrap();
        assert_eq!((machine.columns, machine.rate_baud), (69, 45.0));
    }

    #[test]
    fn the_lamp_keeps_its_distance_from_the_margin() {
        let lamp = |text: &str| toml::from_str::<Machine>(text).unwrap().margin_lamp;
        assert_eq!(lamp("columns = 80"), 74);
        assert_eq!(lamp("columns = 20"), 14);
        assert_eq!(lamp("columns = 80\nmargin_lamp = 66"), 66);
        assert_eq!(lamp("columns = 80\nkind = \"us-72-45-slow\""), 0);
    }

    #[test]
    fn what_is_written_reads_the_same() {
        for kind in kinds() {
            let text = toml::to_string(&kind.machine).unwrap();
            assert_eq!(
                toml::from_str::<Machine>(&text).unwrap(),
                kind.machine,
                "{text}"
            );
        }
    }

    /// What was found, what was expected and what to do.
    #[test]
    fn bad_values_are_told() {
        for (text, parts) in [
            ("columns = 7", ["columns = 7", "20 to 200", "72 is usual"]),
            ("columns = -3", ["columns = -3", "20 to 200", "72 is usual"]),
            (
                "margin_lamp = 73",
                ["margin_lamp = 73", "0 to 72", "66 is usual"],
            ),
            (
                "rate_baud = 0",
                ["rate_baud = 0", "10 to 300", "45.45 is usual"],
            ),
            (
                "return_s = nan",
                ["return_s = NaN", "0 to 5", "0.45 is usual"],
            ),
            (
                "figures = \"uk\"",
                ["figures = \"uk\"", "\"us\", \"ita2\"", "leave"],
            ),
            (
                "line_end = \"LF\"",
                ["line_end = \"LF\"", "a CR and an LF", "CR CR LF LTRS"],
            ),
            (
                "replacement = \"\"",
                ["replacement = \"\"", "single", "\"?\""],
            ),
            (
                "replacement = \"%\"",
                ["replacement = \"%\"", "machine has", "no '%'"],
            ),
            (
                "doubt_mark = \"--\"",
                ["doubt_mark = \"--\"", "single", "leave"],
            ),
            (
                "lacks = \"%\"",
                ["lacks = \"%\"", "US row", "leave out '%'"],
            ),
            (
                "lacks = \".\"",
                ["garble_note = \"...\"", "machine has", "no '.'"],
            ),
            ("kind = \"big\"", ["kind = \"big\"", "us-72-45", "nearest"]),
            (
                "fill = \"BLANK\"\nblank = \"steps\"",
                ["fill = \"BLANK\"", "no blanks", "use LTRS"],
            ),
            (
                "line_end = \"CR LF BLANK\"\nblank = \"steps\"",
                ["line_end = \"CR LF BLANK\"", "no blanks", "use LTRS"],
            ),
        ] {
            let told = error(text);
            for part in parts {
                assert!(told.contains(part), "{text}: {told:?} lacks {part:?}");
            }
        }
    }

    #[test]
    fn unknown_keys_and_wrong_types_are_told_with_their_place() {
        let told = error("columns = 72\ncolums = 74");
        assert!(
            told.contains("line 2") && told.contains("unknown field `colums`"),
            "{told}"
        );
        assert!(told.contains("`columns`"), "{told}");
        let told = error("columns = \"wide\"");
        assert!(
            told.contains("line 1") && told.contains("\"wide\""),
            "{told}"
        );
    }
}
