use super::*;
use proptest::prelude::*;

/// Read in the standard's own terms: the golden record of a contact.
const GOLDEN: &str = "<CALL:5>Q2HLR<QSO_DATE:8>20261114<TIME_ON:6>193000<FREQ:8>3.583000<BAND:3>80m<MODE:4>RTTY<RST_SENT:3>599<RST_RCVD:3>579<NAME:3>JON<STX:1>7<STATION_CALLSIGN:5>Q1ABC<EOR>\n";

fn contact(call: &str) -> Contact {
    Contact {
        call: call.into(),
        begin: "2026-11-14T19:30:00Z".parse().unwrap(),
        frequency_hz: Some(3_583_000.0),
        report_sent: "599".into(),
        report_received: "579".into(),
        name: "JON".into(),
        number_sent: Some(7),
        own: "q1abc".into(),
        ..Contact::default()
    }
}

fn log() -> (tempfile::TempDir, Log) {
    let folder = tempfile::tempdir().unwrap();
    let log = Log::in_folder(&folder.path().join("shelf"));
    (folder, log)
}

fn calls(log: &Log) -> Vec<String> {
    let kept = log.all().unwrap().0;
    kept.into_iter().map(|kept| kept.contact.call).collect()
}

#[test]
fn a_contact_is_kept_as_the_standard_writes_it() {
    let (_folder, log) = log();
    log.add(contact(" q2hlr")).unwrap();
    assert_eq!(log.export().unwrap(), format!("{HEADER}{GOLDEN}"));
    assert_eq!(
        std::fs::read_to_string(&log.path).unwrap(),
        format!("{HEADER}{GOLDEN}")
    );
    let (kept, troubles) = log.all().unwrap();
    assert_eq!(kept[0].contact, contact("Q2HLR").checked().unwrap());
    assert_eq!((kept.len(), troubles), (1, vec![]));
    for wrong in ["", "Q", "599", "Q2 HLR", "QABC", "Q2HLR<EOR>"] {
        assert!(log.add(contact(wrong)).is_err(), "{wrong:?}");
    }
}

#[test]
fn who_was_worked_before_is_shown_and_one_can_be_taken_out() {
    let (_folder, log) = log();
    let on_40m = Contact {
        frequency_hz: Some(7_041_000.0),
        ..contact("Q2HLR")
    };
    for contact in [contact("Q2HLR"), on_40m, contact("Q5EFG"), contact("Q2HLR")] {
        log.add(contact).unwrap();
    }
    let before = |log: &Log| {
        log.all()
            .unwrap()
            .0
            .iter()
            .map(|k| k.worked_before)
            .collect::<Vec<_>>()
    };
    assert_eq!(before(&log), [None, None, None, Some(1)]);
    assert_eq!(log.remove(1).unwrap().call, "Q2HLR");
    assert_eq!(
        (calls(&log), before(&log)),
        (
            ["Q2HLR", "Q5EFG", "Q2HLR"].map(String::from).to_vec(),
            vec![None; 3]
        )
    );
    assert!(
        log.remove(9)
            .unwrap_err()
            .to_string()
            .contains("there are 3")
    );
    assert!(log.remove(0).is_err());
}

#[test]
fn what_a_power_cut_left_swallows_nothing() {
    let (_folder, log) = log();
    log.add(contact("Q2HLR")).unwrap();
    let whole = std::fs::read(&log.path).unwrap();
    let second = GOLDEN.as_bytes();
    for cut in 0..second.len() - 2 {
        std::fs::write(&log.path, [&whole[..], &second[..cut]].concat()).unwrap();
        log.add(contact("Q5EFG")).unwrap();
        assert_eq!(calls(&log), ["Q2HLR", "Q5EFG"], "cut after {cut}");
    }
    std::fs::write(&log.path, "a letter, not a log").unwrap();
    assert!(
        log.add(contact("Q5EFG"))
            .unwrap_err()
            .to_string()
            .contains("move it away")
    );
    assert_eq!(
        std::fs::read_to_string(&log.path).unwrap(),
        "a letter, not a log"
    );
}

#[test]
fn another_log_is_taken_in_once() {
    let (_folder, log) = log();
    log.add(contact("Q2HLR")).unwrap();
    let other = "of elsewhere <eoh>\n<call:5>Q2HLR<qso_date:8:D>20261114<time_on:4>1930<EOR>\
                 <Call:5>Q7LMT <Qso_Date:8>20261114 <Time_On:4>2359 <Time_Off:4>0010\n\
                 <GRIDSQUARE:4>JO02<Mode:2>CW<eor><CALL:5>Q5EFG<EOR><NOTE>";
    let (new, known, troubles) = log.import(other.as_bytes()).unwrap();
    assert_eq!((new, known), (1, 1));
    assert!(troubles[0].contains("<NOTE> at byte") && troubles[1].contains("record 3: QSO_DATE"));
    let kept = &log.all().unwrap().0[1].contact;
    assert_eq!(kept.end.unwrap().to_string(), "2026-11-15T00:10:00Z");
    assert_eq!((kept.mode.as_str(), kept.other.len()), ("CW", 1));
    assert!(log.export().unwrap().contains("<GRIDSQUARE:4>JO02"));
    assert_eq!(log.import(other.as_bytes()).unwrap().0, 0);
}

#[test]
fn control_characters_are_nothing() {
    let text =
        "<CALL:5>Q2HLR<QSO_DATE:8>20261114<NAME:2>\u{1}\u{2}<MODE:1>\u{1}<FREQ:2>7\u{1}<EOR>";
    let contact = Contact::of_record(&adif::read(text.as_bytes()).records[0]).unwrap();
    assert_eq!((contact.mode.as_str(), contact.name.as_str()), ("RTTY", ""));
    assert_eq!(contact.other, [("FREQ".to_string(), "7\u{1}".to_string())]);
}

proptest! {
    #[test]
    fn what_is_written_is_read(call in "Q[0-9][A-Z]{1,4}", name in "[ -~]{0,40}", seconds in 0i64..4_000_000_000, hz in proptest::option::of(1_000_000u32..30_000_000), note in "\\PC{0,40}") {
        let given = Contact {
            begin: jiff::Timestamp::from_second(seconds).unwrap(),
            frequency_hz: hz.map(f64::from),
            name,
            note,
            ..contact(&call)
        }.checked().unwrap();
        let text = adif::write(&given.record());
        let read = adif::read(text.as_bytes());
        prop_assert_eq!(&read.troubles, &[]);
        let back = Contact::of_record(&read.records[0]).unwrap();
        // What the standard has no character for is a question mark in it.
        let plain = |text: &str| text.chars().map(|c| if c.is_ascii() { c } else { '?' }).collect::<String>();
        prop_assert_eq!(back, Contact { note: plain(&given.note), ..given });
    }
}
