//! `markhold air`: recordings of text, as it sounds after a way through the air.

mod options;
mod values;

pub use options::Options;

use crate::outcome::{Outcome, say};
use anyhow::Context;
use markhold_air::Air;
use markhold_sound::{Bext, Encoding, WavSpec, WavWriter};
use std::io::Write;
use std::path::Path;

/// Samples rendered and written at once.
const BLOCK: usize = 8192;

/// Makes the recording.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let scene = options.scene()?;
    let air = Air::new(scene, options.sample_rate)?;
    let spec = WavSpec {
        rate: options.sample_rate,
        channels: 1,
        encoding: if options.float {
            Encoding::F32
        } else {
            Encoding::S16
        },
        bext: options.begin.map(|begin| {
            let description = "Made, not received; times are UTC";
            Bext::at(begin, options.sample_rate, description, "markhold air")
        }),
    };
    let told = told(&air);
    let out = &options.out;
    let name = || match out.to_str() {
        Some("-") => "standard output".to_string(),
        _ => out.display().to_string(),
    };
    if out == Path::new("-") {
        let writer = WavWriter::stream(std::io::stdout(), spec)?;
        let _ = write(air, writer).with_context(name)?;
    } else {
        let writer = WavWriter::create(out, spec).with_context(name)?;
        let _ = write(air, writer).with_context(name)?;
    }
    say(&format!("{}: {told}", name()));
    Ok(Outcome::Done)
}

fn told(air: &Air) -> String {
    let length = air.samples() as f64 / f64::from(air.sample_rate());
    let characters = air.truth().characters(0).len();
    format!(
        "{}, {} Hz, {characters} characters sent",
        crate::words::time(length),
        air.sample_rate()
    )
}

fn write<W: Write>(mut air: Air, mut writer: WavWriter<W>) -> anyhow::Result<W> {
    let mut block = vec![0.0; BLOCK];
    loop {
        let count = air.fill(&mut block);
        if count == 0 {
            return Ok(writer.finish()?);
        }
        writer.write(&block[..count])?;
    }
}
