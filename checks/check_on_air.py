"""`markhold send` armed by a person in a terminal, its tones through a sound server of its own."""

import os
import pty
import shutil
import subprocess
import tempfile
import time

import numpy as np

from alphabet import decode
from check_send import CALL, TEXT, UNIT, plain
from check_sound_output import SINK, served
from demodulator import uart


def checks(report, binary):
    """A person arms it in a terminal; the tones go through a sound system of their own."""
    if not (shutil.which("pulseaudio") and shutil.which("parec")):
        return report.skip("send: tones through a sound system", "pulseaudio and pulseaudio-utils are not installed")
    with tempfile.TemporaryDirectory() as folder:
        heard = os.path.join(folder, "heard")
        with served(folder) as environment:
            for name in ("SSH_CONNECTION", "SSH_CLIENT", "SSH_TTY"):
                environment.pop(name, None)
            with open(heard, "wb") as out:
                recorder = subprocess.Popen(["parec", "-d", f"{SINK}.monitor", "--rate", "48000", "--channels", "1", "--format", "float32le", "--latency-msec", "50"], env=environment, stdout=out)
                time.sleep(1.0)
                master, slave = pty.openpty()
                words = [binary, "send", TEXT.splitlines()[1], "--settings", os.devnull, "--call", CALL, "--to", "tones", "--key", "by-hand"]
                sending = subprocess.Popen(words, env=environment, stdin=slave, stderr=subprocess.PIPE, text=True)
                os.write(master, f"{CALL}\n".encode())
                _, said = sending.communicate(timeout=120)
                time.sleep(0.5)
                recorder.terminate()
                recorder.wait()
                os.close(master), os.close(slave)
        samples = np.fromfile(heard, "<f4").astype(float)
    codes = [c for _, c in uart(samples, 48000, 2125, 2295, 1 / UNIT)]
    read = plain(decode(codes))
    wanted = [TEXT.splitlines()[1], f"DE {CALL}"]
    report.check("send: armed in a terminal, tones through a sound system", sending.returncode == 0 and read == wanted, f"read {read}; {said.strip().splitlines()[-1]}")
    on = np.flatnonzero(np.abs(samples) > 0.4)
    silent = len(on) > 0 and np.max(np.abs(samples[on[-1] + 4800 :]), initial=0.0) < 1e-6
    report.check("send: the tones end with the over", bool(silent), f"{len(on) / 48000:.1f} s of tones, then silence")
