//! Text of others: the settings file, events, keys of characters.

use super::{refused, seeds, size, went};
use crate::{Target, Went};
use markhold_code::decode;
use markhold_event::{Event, Key};
use markhold_page::discipline;
use markhold_shelf::{Preferences, settings_from_json, settings_to_json};
use markhold_wire::keyboard::KeyboardPlan;
use markhold_wire::play::setups;
use markhold_wire::transmit::{Piece, Script, TransmitterPlan, Typed, Writer};

pub const SETTINGS: Target = Target {
    name: "settings",
    try_bytes: settings,
    seeds: || {
        seeds(&[
            "[machine.shack]\nkind = \"us-72-45\"\ncolumns = 74\nway = \"rts:/dev/ttyUSB0\"\n",
            "[machine.a]\nkind = \"ita2-69-50\"\nway = \"tones\"\nmark_hz = 1275\nspace_hz = 1445\nmotor_wire = \"dtr\"\npatience_s = 0\n",
            "[machine.b]\nrate_baud = 45.45\nreturn_s = 0.2\nline_end = \"CR CR LF\"\nlacks = \"#\"\nbells_per_minute = 3\nmotor = true\n",
            "[shelf]\nsound_limit = \"40 GB\"\nlanguage = \"mark\"\nlearn = true\n",
            "[shelf]\nsound_limit = \"1e300 TiB\"\n[machine]\n",
            "[transmitter]\ncall = \"Q1ABC\"\nway = \"tones\"\nkey = \"rigctld:127.0.0.1:4532\"\ncolumns = 40\n",
            "[keyboard]\nway = \"cts:/dev/ttyUSB0\"\nsupply = \"dtr\"\necho = \"wanted\"\nbreak_s = 0.3\n",
            "[transmitter]\nway = \"break:x\"\nkey = \"rts\"\nidle = \"letters\"\nmorse_every_s = 600\nrate_baud = 50\n",
        ])
    },
    words: &[
        "[machine.x]",
        "[shelf]",
        "kind",
        "columns",
        "rate_baud",
        "stop_units",
        "return_s",
        "line_end",
        "figures",
        "lacks",
        "replacement",
        "garble_note",
        "doubt_mark",
        "way",
        "motor_wire",
        "motor",
        "patience_s",
        "mark_hz",
        "space_hz",
        "margin_lamp",
        " = ",
        "\"",
        "0",
        "-1",
        "nan",
        "inf",
        "1e308",
        "99999999999999999999",
        "true",
        "\n",
        "us-72-45",
        "serial:x",
        "[transmitter]",
        "call",
        "key",
        "idle",
        "letters",
        "sideband",
        "shift_hz",
        "wait_on_s",
        "identify_every_s",
        "morse_every_s",
    ],
    longest: 4096,
};

/// A settings file, and something printed by every machine of it.
fn settings(bytes: &[u8]) -> Went {
    let text = String::from_utf8_lossy(bytes);
    let shelf = Preferences::of_settings(&text).map(|p| p.sound_bytes.is_some());
    let setups = match setups(&text) {
        Ok(setups) => setups,
        Err(error) => return refused(error),
    };
    let transmitter = TransmitterPlan::of_settings(&text, Default::default());
    transmitter.iter().for_each(written);
    let keyboard = KeyboardPlan::of_settings(&text, Default::default());
    let mut ways = 0;
    for setup in setups.values() {
        ways += usize::from(setup.way().is_some());
        let copy = markhold_page::Copied::of_text("QRT 73,\r\nDE Q1ABC \u{7}", 1.0);
        let orders = discipline(&setup.machine, copy);
        let orders = orders.expect("a machine of a settings file was looked at");
        let page = markhold_page::print(&setup.machine, &orders);
        let most = usize::from(setup.machine.columns);
        assert!(page.lines.iter().all(|line| line.width() <= most));
    }
    let transmitter = transmitter.map(|plan| plan.way().is_some());
    went((
        setups.len().min(3),
        ways.min(2),
        shelf.map_err(refused),
        transmitter.map_err(refused),
        keyboard.map(|plan| plan.way.is_some()).map_err(refused),
    ))
}

/// Something sent with any transmitter ends, and says the call where there is one.
fn written(plan: &TransmitterPlan) {
    let text = Typed::at_words_per_minute("QRT 73 = 5 %\nDE", 40.0);
    let mut writer = Writer::new(plan, text).expect("a plan that was looked at");
    let (mut codes, mut at_s) = (Vec::new(), 0.0);
    loop {
        at_s += match writer.next(at_s) {
            Piece::End => break,
            Piece::Mark(seconds) => seconds,
            Piece::Line(parts) => parts.iter().map(|part| part.length_s).sum(),
            Piece::Code(code) => {
                codes.push(code);
                plan.speed().character_s()
            }
        };
        assert!(at_s < 600.0, "an over without end");
    }
    let call = plan.call.clone().unwrap_or_default();
    assert!(
        decode(&codes, plan.figures, false)
            .replace(['\r', '\n'], "")
            .contains(&call)
    );
}

pub const EVENTS: Target = Target {
    name: "events",
    try_bytes: events,
    seeds: || {
        let sound = super::receiver::sounding();
        let mut found = Vec::new();
        let settings = markhold_receive::Settings::default();
        let mut receiver = markhold_receive::Receiver::new(8000.0, settings).expect("a rate");
        let mut note = |event: Event| found.push(event);
        receiver.process(&sound, &mut note);
        receiver.finish(&mut note);
        let forms = found.iter().take(12).map(serde_json::to_vec);
        let forms = forms.filter_map(Result::ok);
        forms
            .chain(seeds(&[
                r#"{"all":true,"rate_baud":45.45,"language":"on"}"#,
            ]))
            .collect()
    },
    words: &[
        "\"type\"",
        "character",
        "early",
        "signal",
        "end",
        "unlikely",
        "\"start\"",
        "\"code\"",
        "\"codes\"",
        "\"version\"",
        "null",
        "-1",
        "1e308",
        "32",
        "\"",
        "{",
        "}",
        "[",
        "]",
        ",",
        ":",
    ],
    longest: 4096,
};

/// An event as JSON, which is the same when it was written and read again; and settings.
fn events(bytes: &[u8]) -> Went {
    if let Ok(value) = serde_json::from_slice::<serde_json::Value>(bytes) {
        let settings = settings_from_json(&value);
        let again = settings_from_json(&settings_to_json(&settings));
        assert_eq!(settings_to_json(&settings), settings_to_json(&again));
    }
    let event: Event = match serde_json::from_slice(bytes) {
        Ok(event) => event,
        Err(error) => return refused(error),
    };
    let once = serde_json::to_string(&event).expect("an event can be written");
    let read: Event = serde_json::from_str(&once).expect("what was written is read");
    let twice = serde_json::to_string(&read).expect("an event can be written");
    assert_eq!(once, twice);
    went((std::mem::discriminant(&event), size(once.len())))
}

pub const KEY: Target = Target {
    name: "key",
    try_bytes: key,
    seeds: || seeds(&["00c5d2a9313b77e0.12.1.4711", "ffffffffffffffff.1.1.1"]),
    words: &[".", "-", "0", "ffffffff", "4294967295", "4294967296", "+"],
    longest: 100,
};

/// The key of a character, which reads back as it was written.
fn key(bytes: &[u8]) -> Went {
    match String::from_utf8_lossy(bytes).parse::<Key>() {
        Ok(key) => {
            assert_eq!(key.to_string().parse(), Ok(key));
            went(1)
        }
        Err(error) => refused(error),
    }
}
