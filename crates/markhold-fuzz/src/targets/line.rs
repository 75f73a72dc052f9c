//! A line: its transitions as text, and the ways to one.

use super::{refused, seeds, size, went};
use crate::{Target, Went};
use markhold_bench::line::check;
use markhold_bench::measure::{Knowledge, measure};
use markhold_bench::stamps;
use markhold_code::StartStop;
use markhold_wire::play::{Tones, WayWords};

/// Most transitions that are measured: some characters.
const MOST_EDGES: usize = 400;

pub const STAMPS: Target = Target {
    name: "stamps",
    try_bytes: stamps_of,
    seeds: || {
        let mut all = seeds(&[
            "# a remark\n0.5 space\n0.522 1 # edge\n{\"t\":0.544,\"mark\":false}\n",
            "0 space\n0.022 mark\n0.044 space\n0.066 mark\n0.2 space\n",
        ]);
        let mut whole = String::new();
        // RY at 45.45 baud, one character after the other.
        for k in 0..120 {
            let mark = k % 2 == 1;
            whole += &format!(
                "{:.6} {}\n",
                0.022 * f64::from(k),
                if mark { "mark" } else { "space" }
            );
        }
        all.push(whole.into_bytes());
        all
    },
    words: &[
        "mark",
        "space",
        " ",
        "\n",
        "0",
        "1",
        "0.022",
        "-1",
        "1e308",
        "1e-308",
        "nan",
        "inf",
        "{\"t\":",
        ",\"mark\":",
        "true}",
        "false}",
        "#",
    ],
    longest: 8192,
};

/// Time stamps, and what is measured of them.
fn stamps_of(bytes: &[u8]) -> Went {
    let edges = match stamps::read(bytes) {
        Ok(edges) => edges,
        Err(error) => return refused(error),
    };
    if let Err(error) = check(&edges) {
        return refused(error);
    }
    let mut again = Vec::new();
    stamps::write(&edges, &mut again).expect("a vector takes it");
    assert_eq!(
        stamps::read(&again[..]).expect("what was written").len(),
        edges.len()
    );
    let some = &edges[..edges.len().min(MOST_EDGES)];
    let knowledge = Knowledge {
        noise_s: 1e-5,
        worst_s: 1e-4,
        either_sense: true,
        ..Knowledge::default()
    };
    match measure(some, &knowledge) {
        Ok(measured) => {
            assert!(measured.rate_baud.value.is_finite(), "{measured:?}");
            went((size(some.len()), measured.refusal().is_some()))
        }
        Err(error) => refused(error),
    }
}

pub const WAYS: Target = Target {
    name: "ways",
    try_bytes: ways,
    seeds: || {
        seeds(&[
            "serial:/dev/ttyS0",
            "rts:COM3",
            "break:x",
            "tones",
            "tones:Line Out",
            "tones-file:-",
            "codes:127.0.0.1:4100",
            "codes:[::1]:4100",
            "codes:-",
            "listen:0.0.0.0:1",
            "dtr:",
        ])
    },
    words: &[
        "serial",
        "break",
        "rts",
        "dtr",
        "tones",
        "tones-file",
        "codes",
        "listen",
        ":",
        "-",
        "::",
        "65536",
    ],
    longest: 200,
};

/// Words for a way, which say the same again.
fn ways(bytes: &[u8]) -> Went {
    let text = String::from_utf8_lossy(bytes);
    match text.parse::<WayWords>() {
        Ok(words) => {
            assert_eq!(words.to_string(), text);
            let speed = StartStop::new(50.0, 1.5);
            let way = words.way(speed, None, Tones::default(), true);
            went((std::mem::discriminant(&way), words.is_output()))
        }
        Err(error) => refused(error),
    }
}
