//! A private PulseAudio: a null sink whose monitor is listened to, in a folder of its own.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// The input that hears what is played.
pub const MONITOR: &str = "pulseaudio:air.monitor";
/// Rate of the sink, Hz.
pub const RATE: u32 = 48_000;

/// Whether this machine has what is needed.
pub fn is_installed() -> bool {
    ["pulseaudio", "paplay"].iter().all(|program| {
        let mut asked = Command::new(program);
        asked
            .arg("--version")
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        asked.status().is_ok_and(|status| status.success())
    })
}

/// Sets what makes a program speak to the server in `folder` and to no other.
pub fn environment(command: &mut Command, folder: &Path) {
    command
        .env("HOME", folder)
        .env("XDG_RUNTIME_DIR", folder)
        .env("PULSE_RUNTIME_PATH", folder)
        .env("PULSE_STATE_PATH", folder)
        .env("PULSE_COOKIE", folder.join("cookie"))
        .env("PULSE_SERVER", format!("unix:{}", socket(folder).display()));
}

fn socket(folder: &Path) -> PathBuf {
    folder.join("native")
}

/// The running server; killed when dropped.
pub struct Server {
    process: Child,
}

impl Server {
    /// Starts a server and waits until it answers.
    pub fn start(folder: &Path) -> Self {
        // Clients want a cookie of this length even where none is asked for.
        std::fs::write(folder.join("cookie"), [7; 256]).expect("the folder can be written");
        // A killed server leaves its socket behind.
        let _ = std::fs::remove_file(socket(folder));
        let protocol = format!(
            "module-native-protocol-unix auth-anonymous=1 socket={}",
            socket(folder).display()
        );
        let sink = format!(
            "module-null-sink sink_name=air norewinds=1 format=s16le channels=1 rate={RATE}"
        );
        let mut command = Command::new("pulseaudio");
        command
            .args([
                "-n",
                "--daemonize=no",
                "--use-pid-file=no",
                "--exit-idle-time=-1",
            ])
            .args(["-L", &protocol, "-L", &sink])
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        environment(&mut command, folder);
        // It must not look for a server to speak to.
        command.env_remove("PULSE_SERVER");
        let process = command.spawn().expect("pulseaudio starts");
        let begun = Instant::now();
        while !socket(folder).exists() {
            assert!(
                begun.elapsed() < Duration::from_secs(10),
                "pulseaudio does not come up"
            );
            std::thread::sleep(Duration::from_millis(20));
        }
        Server { process }
    }

    /// Kills it without warning.
    pub fn kill(mut self) {
        self.end();
    }

    fn end(&mut self) {
        // It may be gone already.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.end();
    }
}

/// Plays a file into the sink.
pub fn play(file: &Path, folder: &Path) -> Child {
    let mut command = Command::new("paplay");
    command.arg("--device=air").arg(file).stderr(Stdio::null());
    environment(&mut command, folder);
    command.spawn().expect("paplay starts")
}
