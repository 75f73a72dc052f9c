//! `markhold copy --together`: several receivers' sound of one transmission, copied once.

use super::output::{About, Output};
use super::tally::Tally;
use super::{Options, failed, hint, name, open_as};
use crate::outcome::{Outcome, say};
use crate::stopping;
use anyhow::{Context, bail};
use markhold_event::SignalId;
use markhold_receive::Settings;
use markhold_receive::together::{
    Listened, Listener, Member, Together, Transmission, transmissions,
};
use markhold_sound::{ReadOptions, SoundError, SoundReader};
use std::io;
use std::path::{Path, PathBuf};

/// Samples taken at once.
const BLOCK: usize = 4096;

/// What one receiver heard.
struct Source {
    name: String,
    file: PathBuf,
    how: ReadOptions,
}

impl Source {
    fn open(&self) -> Result<SoundReader, SoundError> {
        open_as(&self.file, &self.how)
    }
}

/// Hears each alone, tells how their clocks differ, then copies what they heard as one.
pub fn run(
    options: &Options,
    settings: &Settings,
    output: &mut dyn Output,
) -> anyhow::Result<Outcome> {
    let sources = sources(options)?;
    let mut heard = Vec::new();
    for (source, listened) in sources.iter().zip(listen(&sources, settings)) {
        match listened {
            Ok(listened) => heard.push(listened),
            Err(error) => return Ok(failed(&source.name, &error)),
        }
    }
    let most = if settings.all { usize::MAX } else { 1 };
    let found: Vec<Transmission> = transmissions(&heard).into_iter().take(most).collect();
    if found.is_empty() {
        say("markhold: nothing found in any of them");
        return Ok(Outcome::NothingFound);
    }
    let first = found[0].members[0].receiver;
    let mut copying = Copying {
        sources: &sources,
        settings,
        output,
        tally: Tally::default(),
    };
    copying.begin(first).context("standard output")?;
    for (found, number) in found.iter().zip(1..) {
        about(found, &sources);
        let copied = copying.copy(found, SignalId(number));
        if let Some(error) = copied.context("standard output")? {
            return Ok(failed(&error.0, &hint(&error.1)));
        }
    }
    copying.end(first, &found).context("standard output")?;
    Ok(match copying.tally.characters {
        0 => Outcome::NothingFound,
        _ => Outcome::Done,
    })
}

/// The files, or the channels of the one that is named.
fn sources(options: &Options) -> anyhow::Result<Vec<Source>> {
    if options.files.iter().any(|f| f == Path::new("-")) {
        bail!("--together hears every sound twice, so standard input is none for it: name files");
    }
    let how = options.read_options();
    let of_file = |file: &PathBuf| Source {
        name: name(file),
        file: file.clone(),
        how,
    };
    if let [file] = &options.files[..] {
        let sound = of_file(file).open();
        let channels = match sound {
            Ok(sound) if how.channel.is_none() => sound.channels(),
            Ok(_) => 1,
            Err(error) => bail!("{}: {}", name(file), hint(&error)),
        };
        if channels < 2 {
            bail!(
                "--together needs two sounds or more: found one channel of {}; name the other files \
                 too",
                name(file)
            );
        }
        let channel = |channel: u16| Source {
            name: format!("{}, channel {channel}", name(file)),
            file: file.clone(),
            how: ReadOptions {
                channel: Some(channel),
                ..how
            },
        };
        return Ok((1..=channels).map(channel).collect());
    }
    Ok(options.files.iter().map(of_file).collect())
}

/// Each heard alone, side by side.
fn listen(sources: &[Source], settings: &Settings) -> Vec<Result<Listened, String>> {
    std::thread::scope(|scope| {
        let one = |source| scope.spawn(move || alone(source, settings));
        let threads: Vec<_> = sources.iter().map(one).collect();
        let joined = threads.into_iter().map(|thread| thread.join());
        let broken = || Err("it could not be heard to its end".to_string());
        joined
            .map(|done| done.unwrap_or_else(|_| broken()))
            .collect()
    })
}

fn alone(source: &Source, settings: &Settings) -> Result<Listened, String> {
    let mut sound = source.open().map_err(|error| hint(&error))?;
    let rate = f64::from(sound.rate());
    let mut listener = Listener::new(rate, settings).map_err(|error| error.to_string())?;
    let mut block = vec![0.0; BLOCK];
    // What a damaged file gives until it breaks is heard; the second walk tells the error.
    while let Ok(count @ 1..) = sound.read(&mut block) {
        listener.process(&block[..count]);
        if stopping::told() {
            break;
        }
    }
    Ok(listener.finish())
}

/// Says who heard a transmission, and how the clocks differ.
fn about(found: &Transmission, sources: &[Source]) {
    let first = &sources[found.members[0].receiver].name;
    let tones = |m: &Member| {
        let [mark, space] = m.tones_hz;
        format!("mark {mark:.0} and space {space:.0} Hz")
    };
    say(&format!(
        "{first}: {}; times are its",
        tones(&found.members[0])
    ));
    for member in &found.members[1..] {
        let (ahead_s, ppm) = (
            member.time.at(found.heard_s.0) - found.heard_s.0,
            1e6 * (member.time.rate - 1.0),
        );
        let way = if ahead_s < 0.0 { "behind" } else { "ahead" };
        let pace = if ppm < 0.0 { "slow" } else { "fast" };
        say(&format!(
            "{}: {}; its clock is {:.3} s {way} and {:.0} ppm {pace}",
            sources[member.receiver].name,
            tones(member),
            ahead_s.abs(),
            ppm.abs()
        ));
    }
    let joined = |k: &usize| found.members.iter().any(|m| m.receiver == *k);
    for other in (0..sources.len()).filter(|k| !joined(k)) {
        say(&format!(
            "{}: too little in common with it, so it is left out",
            sources[other].name
        ));
    }
}

struct Copying<'a> {
    sources: &'a [Source],
    settings: &'a Settings,
    output: &'a mut dyn Output,
    tally: Tally,
}

/// Whose sound ended too early, and why.
type Broken = (String, SoundError);

impl Copying<'_> {
    fn begin(&mut self, first: usize) -> io::Result<()> {
        let source = &self.sources[first];
        if let Ok(sound) = source.open() {
            let about = About::new(&source.name, &sound);
            self.tally.clock = about.clock;
            self.output.begin(&about)?;
        }
        Ok(())
    }

    /// Copies one transmission. `Some` if a sound broke off, after what was copied until then.
    fn copy(&mut self, found: &Transmission, id: SignalId) -> io::Result<Option<Broken>> {
        let Some(mut together) = Together::new(found, id, self.settings) else {
            return Ok(None);
        };
        let source = |m: &Member| &self.sources[m.receiver];
        let names: Vec<String> = found
            .members
            .iter()
            .map(|m| source(m).name.clone())
            .collect();
        let mut sounds = Vec::new();
        for (member, name) in found.members.iter().zip(&names) {
            match source(member).open() {
                Ok(sound) => sounds.push(sound),
                Err(error) => return Ok(Some((name.clone(), error))),
            }
        }
        let (mut block, mut events, mut broken) = (vec![0.0; BLOCK], Vec::new(), None);
        while let Some(member) = together.wants() {
            let count = match sounds[member].read(&mut block) {
                Ok(count) if !stopping::told() => count,
                Ok(_) => 0,
                Err(error) => {
                    broken.get_or_insert((names[member].clone(), error));
                    0
                }
            };
            together.push(member, &block[..count], &mut |event| events.push(event));
            for event in events.drain(..) {
                self.output.event(&event)?;
                if let Some(line) = self.tally.count(&event) {
                    self.output.flush()?;
                    say(&line);
                }
            }
            self.output.flush()?;
        }
        Ok(broken)
    }

    fn end(&mut self, first: usize, found: &[Transmission]) -> io::Result<()> {
        let length_s = found.iter().map(|f| f.heard_s.1).fold(0.0, f64::max);
        let name = &self.sources[first].name;
        self.output.end(&self.tally.end(name, length_s))?;
        self.output.flush()
    }
}
