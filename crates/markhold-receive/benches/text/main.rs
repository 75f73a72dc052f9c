//! The text bench: what shift and language make of likelihoods, without any sound.
//!
//! Texts of many kinds are encoded by an encoder of its own, every element gets the likelihood
//! ratio that noise would leave it, and what [`markhold_receive::text::Text`] reads is counted
//! in glyphs, with language off and on, beside a printer that takes the likeliest codes.
//!
//! `cargo bench -p markhold-receive --bench text -- [part of a kind's name] [--wrong PERCENT,...]
//! [--seeds N] [--file NAME=TEXT-FILE]`

#[path = "../common/text.rs"]
mod common;
mod kinds;
mod sent;
mod tally;

use kinds::{Kind, kinds};
use markhold_receive::settings::LanguageUse;
use tally::Tally;

struct Options {
    part: String,
    wrong: Vec<f64>,
    seeds: u64,
    files: Vec<(String, String)>,
}

fn main() {
    let options = options();
    println!(
        "glyphs wrong, % | codes wrong, % | printer | language off | on | its probabilities off by at most, points | words sure, % | of these wrong, %"
    );
    for kind in kinds(&options.files)
        .iter()
        .filter(|k| k.name.contains(&options.part))
    {
        for &wrong in &options.wrong {
            run(kind, wrong, options.seeds);
        }
    }
}

fn run(kind: &Kind, wrong: f64, seeds: u64) {
    let [mut printer, mut off, mut on] = [(); 3].map(|()| Tally::default());
    for seed in 1..=seeds {
        let mut draw = common::draw(&format!("{} {wrong}", kind.name), seed);
        let sent = kind.send(&mut draw);
        let heard = sent::heard(&sent, wrong / 100.0, &mut draw);
        printer.add(&sent, &sent::printer(&heard));
        off.add(&sent, &sent::read(&heard, LanguageUse::Off));
        on.add(&sent, &sent::read(&heard, LanguageUse::On));
    }
    println!(
        "{:32} | {wrong:4.1} | {:6.2} | {:6.2} | {:6.2} | {:4.1} | {:4.1} | {:5.2}",
        kind.name,
        printer.wrong(),
        off.wrong(),
        on.wrong(),
        on.off_by(),
        on.words_sure(),
        on.sure_words_wrong(),
    );
}

fn options() -> Options {
    let mut options = Options {
        part: String::new(),
        wrong: vec![0.0, 0.5, 2.0, 5.0, 12.0],
        seeds: 3,
        files: Vec::new(),
    };
    let mut arguments = std::env::args().skip(1).filter(|a| a != "--bench");
    while let Some(argument) = arguments.next() {
        let mut value = || arguments.next().expect("this option needs a value");
        match argument.as_str() {
            "--wrong" => {
                let list = value();
                let numbers = list
                    .split(',')
                    .map(|w| w.parse().expect("a number of percent"));
                options.wrong = numbers.collect();
            }
            "--seeds" => options.seeds = value().parse().expect("a number of seeds"),
            "--file" => {
                let named = value();
                let (name, path) = named.split_once('=').expect("NAME=FILE");
                let text = std::fs::read_to_string(path).expect("a text file");
                options.files.push((name.into(), text));
            }
            part => options.part = part.into(),
        }
    }
    options
}
