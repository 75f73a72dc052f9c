//! The doubt bench.

mod cause;
mod cover;
mod sample;
#[path = "../common/text.rs"]
mod text;
mod troubles;

use sample::{Sample, listen};
use std::io::Write;
use troubles::Trouble;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let which = args[0].as_str();
    let (from, to): (u64, u64) = (args[1].parse().unwrap(), args[2].parse().unwrap());
    let chars: usize = args[3].parse().unwrap();
    let mut out = std::io::BufWriter::new(std::fs::File::create(&args[4]).unwrap());
    if which == "cal" {
        use markhold_air::{Channel, Noise};
        let mut cases: Vec<(f64, Channel)> = [8., 6., 5., 4.].map(|d| (d, Channel::Steady)).to_vec();
        for (delay_ms, spread_hz) in [(1.0, 0.5), (2.0, 1.0)] {
            for d in [14., 11., 9.] {
                cases.push((d, Channel::TwoPath { delay_ms, spread_hz }));
            }
        }
        for seed in from..to {
            for (k, (db, channel)) in cases.iter().enumerate() {
                let mut s = Trouble::Weak.scenes(seed * 100 + k as u64, chars);
                s[0].noise = Noise::EsN0Db(*db);
                s[0].senders[0].channel = *channel;
                let samples = listen(&s, None);
                for x in &samples { row(&mut out, &format!("cal{k}"), seed, x); }
            }
            eprintln!("seed {seed}");
        }
        return;
    }
    for t in Trouble::ALL {
        if which != "all" && !t.name().contains(which) { continue; }
        let (mut n, mut doubtful, mut right) = (0, 0, 0);
        for seed in from..to {
            let samples = listen(&t.scenes(seed, chars), (t == Trouble::ShiftCovered).then_some(seed));
            n += samples.len();
            for x in &samples {
                right += usize::from(x.right);
                doubtful += usize::from(x.character.doubt.is_some());
                row(&mut out, &format!("{t:?}"), seed, x);
            }
        }
        eprintln!("{}: {n} characters, {doubtful} doubtful, {right} right", t.name());
    }
}

fn row(out: &mut impl Write, case: &str, seed: u64, x: &Sample) {
    let c = &x.character;
    let k = &c.conditions;
    let f: Vec<String> = [
        k.energy[0], k.energy[1], k.usual[0], k.usual[1], k.clear, k.least_clear, k.gain_db[0], k.gain_db[1], k.other[0], k.other[1], k.sent, k.off[0], k.off[1], k.moved_hz, k.edges, k.stretched, k.spread, k.under[0], k.under[1], k.beside, k.varies, k.claimed[0], k.claimed[1],
    ].iter().map(f32::to_string).collect();
    writeln!(out, "{case},{seed},{:.4},{},{},{},{},{:?},{:?},{},{},{},{},{:?},{:?},{}",
        c.start_s, u8::from(x.right), u8::from(x.present), u8::from(x.shift_wrong), c.code.value(), x.cause, c.doubt, c.probability, c.alternatives[0].probability, c.alternatives[0].code.value(), c.alternatives[1].code.value(), c.shift, k.look, f.join(",")).unwrap();
}
