//! Contacts of other logs, and texts with blanks.

use super::{refused, seeds, size, went};
use crate::{Target, Went};
use markhold_contact::{Contact, Filling, adif, fill};

pub const ADIF: Target = Target {
    name: "adif",
    try_bytes: adif,
    seeds: || {
        seeds(&[
            "<CALL:5>Q2HLR<QSO_DATE:8>20261114<TIME_ON:4>1930<FREQ:7>3.58300<BAND:3>80m<MODE:4>RTTY<EOR>",
            "a club's log\n<ADIF_VER:5>3.1.7<EOH>\n<call:5>Q7LMT <qso_date:8:D>20281231 <time_on:6>235959 <time_off:4>0010<mode:2>CW<name:3>ADA<eor>\n<CALL:7>Q5EFG/P<QSO_DATE:8>19700101<STX:3>007<SRX:1>1<COMMENT:7>OLD <> :<EOR>",
        ])
    },
    words: &[
        "<EOR>",
        "<eoh>",
        "<CALL:",
        "<QSO_DATE:8>",
        "<TIME_ON:",
        "<QSO_DATE_OFF:8>",
        "<TIME_OFF:4>",
        "<FREQ:",
        "<MODE:",
        "<NOTES:",
        ":S>",
        ":M>",
        "<A:18446744073709551616>",
        "<A:9999999999>",
        "00000000",
        "99991231",
        "20270229",
        "2460",
        "-1",
        "1e999",
        "NaN",
        "\u{feff}",
    ],
    longest: 2048,
};

/// What is read as contacts is written as the standard has it, and read again the same.
fn adif(bytes: &[u8]) -> Went {
    let read = adif::read(bytes);
    assert!(read.whole <= bytes.len());
    let contacts: Vec<_> = read.records.iter().map(Contact::of_record).collect();
    let good: Vec<&Contact> = contacts.iter().flatten().collect();
    let text: String = good
        .iter()
        .map(|contact| adif::write(&contact.record()))
        .collect();
    assert!(
        text.bytes()
            .all(|b| b == b'\n' || (b' '..=b'~').contains(&b))
    );
    let again = adif::read(text.as_bytes());
    assert_eq!((again.records.len(), again.troubles.len()), (good.len(), 0));
    let once: Vec<Contact> = again.records.iter().flat_map(Contact::of_record).collect();
    assert_eq!(once.len(), good.len());
    let twice: String = once
        .iter()
        .map(|contact| adif::write(&contact.record()))
        .collect();
    assert_eq!(text, twice);
    let bad = contacts.iter().find_map(|contact| contact.as_ref().err());
    let trouble = read.troubles.first().map(refused);
    went((size(good.len()), trouble, bad.map(refused)))
}

pub const BLANKS: Target = Target {
    name: "blanks",
    try_bytes: blanks,
    seeds: || {
        seeds(&[
            "CQ DE {own}\n{call} UR {report} NR {number} {time} {name} K",
            "no blanks",
        ])
    },
    words: &["{", "}", "{own}", "{Call}", "{ time }", "{}", "{{"],
    longest: 512,
};

/// What is filled in has no blanks left.
fn blanks(bytes: &[u8]) -> Went {
    let given = Some("Q1ABC".to_string());
    let filling = Filling {
        own: given.clone(),
        call: given.clone(),
        name: given.clone(),
        report: given,
        number: Some(7),
        ..Filling::default()
    };
    match fill(&String::from_utf8_lossy(bytes), &filling) {
        Ok(text) => {
            assert!(!text.contains(['{', '}']));
            went(size(text.len()))
        }
        Err(error) => refused(error),
    }
}
