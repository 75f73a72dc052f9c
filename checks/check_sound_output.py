"""Tones through a real sound system: what a terminal unit would hear.

Starts a sound server of its own with a sink that nobody hears, lets the example
`keyed_sound` of markhold-wire play on it, records the sink's monitor and takes the
recording apart as `check_tones` does. The sink's clock is the recording's clock, so speed
and distortion are those of the keyer; how well a real sound card's clock keeps time is the
card's own affair (50 parts in a million is usual, common practice).

Skipped where no such server is installed. Takes as long as the text.
"""

import contextlib
import os
import shutil
import subprocess
import tempfile
import time

import numpy as np

import check_tones
from examples import example

RATE, SECONDS = 48000, 12.0
CASE = (1 / 0.022, 1.5, 2125, 2295, RATE)
SINK = "line_check"
ATTEMPTS = 3  # on a busy computer the sound server itself stutters


@contextlib.contextmanager
def served(folder, *more):
    """A private server, with more options if there are any; gives the environment that its clients need."""
    cookie = os.path.join(folder, "cookie")
    with open(cookie, "wb") as out:
        out.write(bytes(256))  # anonymous clients still need a cookie of the right length
    socket = os.path.join(folder, "native")
    environment = dict(os.environ, HOME=folder, XDG_RUNTIME_DIR=folder, PULSE_SERVER=f"unix:{socket}", PULSE_COOKIE=cookie)
    command = ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disable-shm=yes", *more]
    command += ["--load", f"module-native-protocol-unix auth-anonymous=1 socket={socket}"]
    # Rewinds would stall the monitor of a sink without a clock of its own.
    command += ["--load", f"module-null-sink sink_name={SINK} rate={RATE} channels=2 norewinds=1"]
    server = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        for _ in range(100):
            if subprocess.run(["pactl", "info"], env=environment, capture_output=True).returncode == 0:
                break
            time.sleep(0.1)
        else:
            raise RuntimeError("the sound server did not start within 10 s")
        yield environment
    finally:
        server.kill()
        server.wait()


def record(keyed, codes):
    """What the monitor heard, and what the example said."""
    with tempfile.TemporaryDirectory() as folder:
        heard = os.path.join(folder, "heard")
        with served(folder) as environment:
            listen = ["parec", "-d", f"{SINK}.monitor", "--rate", str(RATE), "--channels", "1", "--format", "float32le", "--latency-msec", "50"]
            with open(heard, "wb") as out:
                recorder = subprocess.Popen(listen, env=environment, stdout=out)
                time.sleep(1.0)
                play = [keyed, *(str(a) for a in CASE[:4])]
                done = subprocess.run(play, input=bytes(codes), env=environment, capture_output=True, timeout=120)
                time.sleep(1.0)
                recorder.terminate()
                recorder.wait()
        if done.returncode:
            raise RuntimeError(f"keyed_sound, exit {done.returncode}: {done.stderr.decode()[-300:]}")
        return np.fromfile(heard, "<f4").astype(float), done.stderr.decode()


def checks(report, binary):
    """One text at 45.45 baud."""
    if not (shutil.which("pulseaudio") and shutil.which("parec")):
        return report.skip("tones through a sound system", "pulseaudio and pulseaudio-utils are not installed")
    keyed = example(binary, "markhold-wire", "keyed_sound")
    rng = np.random.default_rng(check_tones.SEED)
    codes = rng.integers(0, 32, int(SECONDS * CASE[0] / (6 + CASE[1]))).tolist()
    for attempt in range(1, ATTEMPTS + 1):
        heard, said = record(keyed, codes)
        on = np.nonzero(np.abs(heard) > 0.4)[0]
        if len(on) == 0:
            return report.check("something is heard", False, f"{len(heard)} samples of silence")
        pause_s = np.max(np.diff(on)) / RATE
        if pause_s < 1e-3:
            break
    sound = heard[on[0] : on[-1]]
    report.check("the sound never stops", bool(pause_s < 1e-3), f"longest pause {pause_s * 1e3:.2f} ms; {said.strip()}; attempt {attempt}")
    check_tones.timing(report, "through the sound system", sound, codes, CASE, exact_begin=False)
