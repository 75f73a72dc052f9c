//! `markhold shelf add`: a recording made elsewhere becomes an evening.

use super::options::Add;
use super::when::Zone;
use crate::outcome::{Outcome, say};
use crate::wanted::Wanted;
use anyhow::{Context, bail};
use jiff::{Timestamp, ZonedDateTime};
use markhold_event::Event;
use markhold_receive::{Receiver, Settings};
use markhold_shelf::{Evening, KeepSettings, Keeper, Shelf, settings_to_json};
use markhold_sound::{ReadOptions, SoundReader};
use std::path::Path;
use std::time::Duration;

const BLOCK: usize = 4096;

/// How long the archive is waited for.
const PATIENCE: Duration = Duration::from_secs(10);

/// Sound that may wait to be written, s; a file is read faster than a disk may write.
const MOST_WAITING_S: f64 = 5.0;

pub fn run(place: &Path, add: &Add, zone: &Zone, wanted: &Wanted) -> anyhow::Result<Outcome> {
    let name = || add.file.display().to_string();
    let sound = SoundReader::open(&add.file, &ReadOptions::default()).with_context(name)?;
    let settings = Settings {
        all: !add.strongest,
        language: wanted.language,
        learned: wanted.learned(&mut Shelf::make(place)?),
        unlikely: true,
        ..Settings::default()
    };
    let evening = Evening {
        begin: begin(add, &sound, zone)?,
        input: format!(
            "recording {}",
            add.file.file_name().unwrap_or_default().to_string_lossy()
        ),
        rate: sound.rate(),
        settings: settings_to_json(&settings),
    };
    let receiver = Receiver::new(f64::from(sound.rate()), settings)?;
    let keep = KeepSettings {
        care: false,
        ..wanted.keep.clone()
    };
    let keeper = Keeper::begin(place, evening, keep)?;
    let result = hear(sound, receiver, &keeper);
    let id = keeper.wait_for_evening(PATIENCE);
    keeper
        .notices()
        .iter()
        .for_each(|notice| say(&notice.to_string()));
    let (_, state) = keeper.state();
    keeper.finish()?;
    result.with_context(name)?;
    let Some(id) = id else {
        bail!("{}", state.words());
    };
    let evening = Shelf::open(place)?.evening(id)?;
    say(&super::show::heading(&evening, zone));
    evening.best_reading().into_iter().for_each(|reading| {
        say(&super::show::about_reading(&evening, reading));
    });
    Ok(Outcome::Done)
}

/// When it began: as told, by the recording's own time stamp, or now.
fn begin(add: &Add, sound: &SoundReader, zone: &Zone) -> anyhow::Result<ZonedDateTime> {
    let here = jiff::tz::TimeZone::system();
    let stamp = sound.bext().and_then(|bext| bext.time_stamp);
    let begin = match (&add.begin, stamp) {
        (Some(typed), _) => zone.from(typed)?,
        (None, Some(stamp)) => stamp
            .begin_exact(sound.rate())
            .to_zoned_datetime(jiff::tz::TimeZone::UTC)?
            .timestamp(),
        (None, None) => Timestamp::now(),
    };
    Ok(begin.to_zoned_datetime(here))
}

fn hear(mut sound: SoundReader, mut receiver: Receiver, keeper: &Keeper) -> anyhow::Result<()> {
    let mut block = vec![0.0; BLOCK];
    let mut keep = |event: Event| keeper.event(&event);
    let result = loop {
        match sound.read(&mut block) {
            Ok(0) => break Ok(()),
            Ok(count) => {
                keeper.sound(&block[..count]);
                receiver.process(&block[..count], &mut keep);
            }
            Err(error) => break Err(error),
        }
        while keeper.waiting_s() > MOST_WAITING_S {
            std::thread::sleep(Duration::from_millis(5));
        }
    };
    receiver.finish(&mut keep);
    keeper.copied(sound.position() as f64 / f64::from(sound.rate()));
    sound
        .notices()
        .iter()
        .for_each(|notice| say(&notice.to_string()));
    Ok(result?)
}
