//! The second process, which watches over a line that is keyed: this program once more, by a
//! command of its own that no person needs.

use crate::outcome::Outcome;
use markhold_wire::guard;
use std::process::Command;

/// The command's name.
const NAME: &str = "guardian";

/// Says how a guardian is started.
pub fn announce() {
    guard::set_program(program);
}

/// The program that runs, even if its file was replaced meanwhile.
fn program() -> Command {
    let path = match cfg!(target_os = "linux") {
        true => "/proc/self/exe".into(),
        false => std::env::current_exe().unwrap_or_else(|_| "markhold".into()),
    };
    let mut command = Command::new(path);
    command.arg(NAME);
    command
}

/// Watches over the sender at the other end of standard input.
pub fn run() -> anyhow::Result<Outcome> {
    #[cfg(unix)]
    {
        use anyhow::Context;
        let _taken = take_signals()?;
        guard::serve().context(
            "a guardian is started by the program that keys a line, and has nothing to do alone",
        )?;
    }
    Ok(Outcome::Done)
}

/// Signals that end programs are taken and do nothing: it ends with its sender, whose line
/// it would leave alone otherwise.
#[cfg(unix)]
fn take_signals() -> std::io::Result<tokio::runtime::Runtime> {
    use tokio::signal::unix::{SignalKind, signal};
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let kinds = [
        SignalKind::hangup(),
        SignalKind::interrupt(),
        SignalKind::terminate(),
        SignalKind::quit(),
    ];
    runtime.block_on(async {
        kinds
            .into_iter()
            .try_for_each(|kind| signal(kind).map(drop))
    })?;
    Ok(runtime)
}
