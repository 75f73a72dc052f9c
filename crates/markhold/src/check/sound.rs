//! Sound inputs and their level.

use super::finding::{Finding, Part, Verdict};
use markhold_event::rounded;
use markhold_sound::Taken;
use markhold_sound::device::{InputId, InputInfo, inputs};
use markhold_station::inputs::{Inputs, SystemInputs, named};
use markhold_station::instruments::{Level, LevelMeter, LevelState};
use markhold_station::tuning::Fault;
use std::time::{Duration, Instant};

/// Which input is meant, and how long each is heard.
pub struct Heard<'a> {
    /// A part of the name; `None` = the system's.
    pub input: Option<&'a str>,
    /// Counted from 1.
    pub channel: u16,
    /// How long each is listened to.
    pub span: Duration,
}

/// What the level was over a span.
#[derive(Clone, Copy, Debug)]
struct Measured {
    level: Level,
    rate: u32,
    /// How much sound came, s.
    heard_s: f64,
    /// Whether samples were lost.
    lost: bool,
}

/// All inputs, each listened to, all at once: they do not disturb each other, and who waits is
/// spared the sum.
pub fn look(heard: &Heard) -> Vec<Finding> {
    let all = inputs();
    if all.is_empty() {
        return vec![none()];
    }
    let meant = match meant(heard.input, &all) {
        Ok(meant) => meant,
        Err(why) => {
            let cure = "give a part of one of the names below";
            let mut findings = listened(heard, &all, None);
            findings.insert(0, Finding::good(Part::Sound, why).but(Verdict::Wrong, cure));
            return findings;
        }
    };
    let mut findings = listened(heard, &all, meant.as_ref());
    if meant.is_none() {
        findings.insert(0, no_usual());
    }
    findings
}

fn no_usual() -> Finding {
    let cure = "start the sound server, choose an input in the system's sound settings, or name \
                one (--input NAME); recordings (markhold copy FILE) and practice (markhold \
                --practice) need none";
    Finding::good(Part::Sound, "the system has chosen no input").but(Verdict::Wrong, cure)
}

/// The input that is meant; `None` where the system has no usual one.
fn meant(input: Option<&str>, all: &[InputInfo]) -> Result<Option<InputId>, String> {
    match input {
        Some(part) => named(part).map(Some),
        None => Ok(all.iter().find(|i| i.is_default).map(|i| i.id.clone())),
    }
}

fn none() -> Finding {
    let cure = "plug one in, or start the sound server; on another computer markhold copies \
                recordings (markhold copy FILE) and practises (markhold --practice) without any";
    Finding::good(Part::Sound, "there is no sound input").but(Verdict::Wrong, cure)
}

fn listened(heard: &Heard, all: &[InputInfo], meant: Option<&InputId>) -> Vec<Finding> {
    std::thread::scope(|scope| {
        let one = |info| scope.spawn(move || listen(heard, info));
        let listening: Vec<_> = all.iter().map(one).collect();
        let found = listening.into_iter().map(|one| one.join());
        found
            .zip(all)
            .map(|(found, info)| {
                let found = found.unwrap_or_else(|_| Err("it broke off".into()));
                told(info, found, meant == Some(&info.id))
            })
            .collect()
    })
}

/// Listens to one.
fn listen(heard: &Heard, info: &InputInfo) -> Result<Measured, String> {
    let system = SystemInputs {
        channel: heard.channel,
    };
    let mut source = system.open(&info.id.0)?;
    let rate = source.rate();
    // One for the whole span; another is asked as often as the desk's, and its worst word counts.
    let (mut whole, mut of_late) = (LevelMeter::new(rate), LevelMeter::new(rate));
    let (mut block, mut state) = (Vec::new(), LevelState::Good);
    let (mut samples, mut lost) = (0usize, false);
    let begun = Instant::now();
    while begun.elapsed() < heard.span {
        match source.take(&mut block) {
            Taken::Sound => {
                whole.process(&block);
                of_late.process(&block);
                samples += block.len();
                let now = of_late.take().state;
                if state != LevelState::Clipping {
                    state = now;
                }
            }
            Taken::Nothing => {}
            Taken::Gap { .. } | Taken::Lost | Taken::Back { .. } => lost = true,
            Taken::Gone { why } => return Err(why),
            Taken::Ended { why } => return Err(why.unwrap_or_else(|| "it has ended".into())),
        }
    }
    Ok(Measured {
        level: Level {
            state,
            ..whole.take()
        },
        rate,
        heard_s: samples as f64 / f64::from(rate),
        lost,
    })
}

/// What is said of one. Only the input that is meant can be wrong: others may lie idle.
fn told(info: &InputInfo, found: Result<Measured, String>, meant: bool) -> Finding {
    let name = format!("{} ({})", info.name, info.through);
    let worst = if meant {
        Verdict::Wrong
    } else {
        Verdict::Remark
    };
    let measured = match found {
        Ok(measured) => measured,
        Err(why) => {
            let cure = "close the program that has it, plug it in again, or start the sound server";
            return Finding::good(Part::Sound, why).of(name).but(worst, cure);
        }
    };
    let level = measured.level;
    let chosen = if meant {
        "; this one is listened to"
    } else {
        ""
    };
    let finding = Finding::good(
        Part::Sound,
        format!(
            "mean level {:.0} dB, peak {:.0} dB over full scale, {} Hz{chosen}",
            level.rms_db, level.peak_db, measured.rate
        ),
    );
    let finding = finding
        .of(name)
        .with("rms_db", rounded(f64::from(level.rms_db), 1))
        .with("peak_db", rounded(f64::from(level.peak_db), 1))
        .with("clipped", level.clipped)
        .with("rate_hz", measured.rate)
        .with("heard_s", rounded(measured.heard_s, 2))
        .with("input", info.id.0.clone())
        .with("meant", meant);
    if measured.heard_s == 0.0 {
        return finding.but(worst, Fault::Still.words());
    }
    if let Some(fault) = Fault::of(level.state) {
        return finding.but(worst, fault.words());
    }
    match measured.lost {
        true => finding.but(Verdict::Remark, "sound was lost: close other programs"),
        false => finding,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn info() -> InputInfo {
        InputInfo {
            id: InputId("pulseaudio:a".into()),
            name: "Line In".into(),
            through: "PulseAudio".into(),
            is_default: true,
        }
    }

    fn measured(state: LevelState, heard_s: f64) -> Result<Measured, String> {
        let level = Level {
            peak_db: -12.0,
            rms_db: -24.04,
            clipped: 0,
            state,
        };
        Ok(Measured {
            level,
            rate: 48_000,
            heard_s,
            lost: false,
        })
    }

    #[test]
    fn a_good_level_needs_no_cure() {
        let finding = told(&info(), measured(LevelState::Good, 3.0), true);
        assert_eq!((finding.verdict, &finding.cure), (Verdict::Good, &None));
        assert!(finding.found.contains("mean level -24 dB"), "{finding}");
        assert_eq!(finding.figures["rms_db"], -24.0);
    }

    #[test]
    fn only_the_input_that_is_meant_is_wrong() {
        for (found, said) in [
            (measured(LevelState::Silent, 3.0), "is the cable in"),
            (measured(LevelState::Clipping, 3.0), "turn the level down"),
            (measured(LevelState::TooLittle, 3.0), "turn the level up"),
            (measured(LevelState::Good, 0.0), "gives nothing"),
            (Err("busy".into()), "close the program"),
        ] {
            let here = told(&info(), found.clone(), true);
            assert!(here.cure.expect("a cure").contains(said));
            assert_eq!(here.verdict, Verdict::Wrong);
            assert_eq!(told(&info(), found, false).verdict, Verdict::Remark);
        }
    }
}
