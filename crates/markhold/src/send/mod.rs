//! `markhold send`: text to a transmitter, or what would be sent.

mod arm;
mod from_keyboard;
mod kept;
mod options;
mod planned;
mod ready;
mod settings_air;
mod trial;

pub use options::Options;
pub use ready::folder_beside;
pub use settings_air::SettingsAir;

use crate::machine::Preview;
use crate::outcome::{Outcome, say};
use crate::{stopping, words};
use anyhow::{Context, bail};
use kept::Kept;
use markhold_page::render;
use markhold_station::answering::Went;
use markhold_wire::play::WayWords;
use markhold_wire::transmit::{
    Arming, Ended, KeyWords, Over, TonesFrom, Transmitter, TransmitterPlan,
};
use planned::Planned;
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};

/// Leave that is given beyond the length of the over, for opening and for a busy computer.
const MARGIN: Duration = Duration::from_secs(10);

/// Sends, or shows what would be sent.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let plan = options.plan()?;
    if options.keyboard.keyboard.is_some() {
        return from_keyboard::run(options, &plan);
    }
    if options.trial {
        return trial::run(&plan);
    }
    let text = ready::text(options, &plan)?;
    let planned = Planned::new(&plan, &text, options.typed)?;
    if options.dry {
        return dry(options, &plan, &planned);
    }
    if plan.way.is_none() {
        say(&format!(
            "{}; no transmitter is set (--to, or way in [transmitter]), so nothing is sent:",
            planned.told()
        ));
        return shown(&plan, &planned);
    }
    send(options, &plan, &planned)
}

fn dry(options: &Options, plan: &TransmitterPlan, planned: &Planned) -> anyhow::Result<Outcome> {
    let Some(path) = &options.out else {
        say(&planned.told());
        return shown(plan, planned);
    };
    planned.check_length(plan)?;
    let path = (path != Path::new("-")).then(|| path.clone());
    let name = path
        .as_ref()
        .map_or("standard output".into(), |p| p.display().to_string());
    let over = Transmitter::in_file(plan, path).map(|mut line| {
        line.over(&mut planned.script()?, &Arming::new())
            .into_result()
    });
    let over = over.map_err(anyhow::Error::from).and_then(|done| done);
    over.with_context(|| name.clone())?;
    say(&format!("{name}: {}", planned.told()));
    Ok(Outcome::Done)
}

/// The text as it would be printed.
fn shown(plan: &TransmitterPlan, planned: &Planned) -> anyhow::Result<Outcome> {
    let mut preview = Preview::new(&plan.printer());
    preview.give(&planned.orders);
    let text = render::text::text(preview.page());
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())
        .and_then(|()| out.flush())
        .context("standard output")?;
    Ok(Outcome::Done)
}

fn send(options: &Options, plan: &TransmitterPlan, planned: &Planned) -> anyhow::Result<Outcome> {
    let (call, way, key) = who(plan)?;
    planned.check_length(plan)?;
    let terminal = arm::terminal()?;
    say(arm::CAUTION);
    say(&format!(
        "{call}, by {way}, keyed by {key}: {}",
        planned.told()
    ));
    say(&format!(
        "{}\n{}",
        planned::tones(plan),
        planned::given(plan)
    ));
    let lasts = match options.armed_for {
        Some(lasts) if lasts < planned.lasts() => bail!(
            "armed for {}, and it takes {}: arm it for longer, or send less",
            words::time(lasts.as_secs_f64()),
            words::time(planned.lasts().as_secs_f64())
        ),
        Some(lasts) => lasts,
        None if arm::asked(terminal, call)? => planned.lasts() + MARGIN,
        None => {
            say("not armed; nothing was sent");
            return Ok(Outcome::Failed);
        }
    };
    on_the_air(options, plan, planned, lasts)
}

/// Who sends, by what, and what keys it.
fn who(plan: &TransmitterPlan) -> anyhow::Result<(&str, &WayWords, &KeyWords)> {
    let Some(call) = &plan.call else {
        bail!("no call is set, and without one nothing is sent: --call, or call in [transmitter]");
    };
    let (Some(way), Some(key)) = (&plan.way, &plan.key) else {
        bail!("nobody says how the transmitter is keyed: --key, or key in [transmitter]");
    };
    if plan.tones == TonesFrom::Received {
        bail!(
            "the tones of a received pair are to be sent (tones = \"received\" in [transmitter]), and \
             this command hears nobody: give them with --pair MARK,SPACE, send the own ones with \
             --set tones=own, or send from the desk"
        );
    }
    Ok((call, way, key))
}

fn on_the_air(
    options: &Options,
    plan: &TransmitterPlan,
    planned: &Planned,
    lasts: Duration,
) -> anyhow::Result<Outcome> {
    let mut transmitter = Transmitter::open(plan)?;
    let off = transmitter.off_switch();
    let stop = move || {
        if let Err(error) = off.off() {
            say(&format!("markhold: {error}"));
        }
    };
    stopping::on_stop(stop).context("signals that stop the program")?;
    let call = plan.call.as_deref().unwrap_or_default();
    if !arm::cable(transmitter.cable(), call, options.armed_for.is_none())? {
        say("not armed; nothing was sent");
        return Ok(Outcome::Failed);
    }
    let arming = Arming::new();
    arming.arm(lasts);
    let kept = Kept::begin(options, plan);
    let tell = |line| kept.sent(line);
    let mut line = 0;
    let mut next = |transmitter: &mut Transmitter| -> anyhow::Result<Over> {
        let mut went = Went::new(planned.script()?, plan.figures, line, &tell);
        let over = transmitter.over(&mut went, &arming);
        line = went.finish(matches!(over.ended, Ended::Whole));
        Ok(over)
    };
    let mut over = next(&mut transmitter)?;
    while let Some(pause) = options.again_after.filter(|_| goes_on(&over)) {
        say(&told(&over));
        if !waited(pause, &arming, planned.lasts()) {
            break;
        }
        over = next(&mut transmitter)?;
    }
    let sent = told(&over);
    if let Err(error) = &over.unkeyed {
        // At once: the guardian goes on trying for a minute.
        say(&format!("markhold: {error}"));
    }
    drop(transmitter);
    kept.finish();
    over.into_result()
        .with_context(|| format!("after {sent}"))?;
    say(&format!("sent: {sent}; the transmitter is unkeyed"));
    Ok(Outcome::Done)
}

/// `69 characters in 12 s`.
fn told(over: &Over) -> String {
    let lasted = words::time(over.lasted_s);
    format!("{} characters in {lasted}", over.codes)
}

/// Whether a loop may come round after this over.
fn goes_on(over: &Over) -> bool {
    matches!(over.ended, Ended::Whole) && over.unkeyed.is_ok()
}

/// Waits between two rounds; whether leave lasts for another one.
fn waited(pause: Duration, arming: &Arming, lasts: Duration) -> bool {
    let until = Instant::now() + pause;
    while Instant::now() < until && !stopping::told() {
        std::thread::sleep(Duration::from_millis(50));
    }
    !stopping::told() && arming.left().is_some_and(|left| left >= lasts)
}

/// An over as a result.
trait IntoResult {
    fn into_result(self) -> anyhow::Result<()>;
}

impl IntoResult for Over {
    fn into_result(self) -> anyhow::Result<()> {
        self.unkeyed?;
        match self.ended {
            Ended::Whole => Ok(()),
            Ended::TurnedOff => bail!("stopped; the transmitter is unkeyed"),
            Ended::Disarmed => {
                bail!("the time it was armed for has ended; the transmitter is unkeyed")
            }
            Ended::TooLong => bail!(
                "cut off at the longest over; the transmitter is unkeyed: send less at a time, or \
                 raise longest_over_s"
            ),
            Ended::Failed(error) => Err(error.into()),
        }
    }
}
