"""The shelf, seen by others: Python's sqlite3 and wave, the SigMF library's own schema.

A recording is put on a shelf by a program that is killed at a random moment, a hundred
times. Whatever was written then must be a sound archive, and the sound on it a beginning
of the recording, sample for sample.
"""

import contextlib
import json
import pathlib
import random
import signal
import sqlite3
import subprocess
import tempfile
import time
import wave

KILLS = 100
TEXT = "BULLETIN OF THE LOW MARSH CLUB NET AT NINE DE Q1ABC\n" * 15


def samples(path):
    with wave.open(str(path)) as sound:
        return sound.readframes(sound.getnframes())


def run(binary, *words):
    return subprocess.run([binary, *map(str, words)], capture_output=True, text=True)


def checks(report, binary):
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        recording = folder / "evening.wav"
        made = run(binary, "air", TEXT, "--out", recording, "--es-n0", 14, "--seed", 7,
                   "--begin", "2026-03-21T19:30:00Z")
        report.check("recording made", made.returncode == 0, made.stderr.strip())
        sigmf(report, binary, folder, recording)
        kills(report, binary, folder, recording)


def sigmf(report, binary, folder, recording):
    """SigMF 1.2.6: schema and checks of the SigMF project's own library."""
    from sigmf import sigmffile

    shelf, out = folder / "kept", folder / "sigmf"
    run(binary, "shelf", "--shelf", shelf, "add", recording)
    done = run(binary, "shelf", "--shelf", shelf, "export", "last", "--format", "sigmf",
               "--out", out)
    report.check("sigmf written", done.returncode == 0, done.stderr.strip())
    handle = sigmffile.fromfile(str(out / "evening-1.sigmf-meta"), autoscale=False)
    handle.validate()
    report.check("sigmf valid", True, "by the library's schema")
    first = handle.read_samples(count=-1)
    same = first.astype("<i2").tobytes() == samples(recording)
    report.check("sigmf samples", same, f"{len(first)} samples")
    text = " ".join(a["core:comment"] for a in handle.get_annotations())
    report.check("sigmf copy", "LOW MARSH CLUB" in text, text[:60])


def kills(report, binary, folder, recording):
    whole = samples(recording)
    shelf = folder / "killed"
    chance = random.Random(20260321)
    began = time.monotonic()
    run(binary, "shelf", "--shelf", folder / "timed", "add", recording)
    length = time.monotonic() - began
    damaged, wrong, kept = 0, 0, []
    for _ in range(KILLS):
        child = subprocess.Popen([binary, "shelf", "--shelf", shelf, "add", recording],
                                 stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(chance.uniform(0.0, length))
        child.send_signal(signal.SIGKILL)
        child.wait()
        damaged += not is_sound(shelf)
        # The next start ends the evening and repairs the headers.
        listed = run(binary, "shelf", "--shelf", shelf, "list", "--json", "--all")
        evenings = [json.loads(line) for line in listed.stdout.splitlines()]
        wrong += any(e["end"] is None for e in evenings)
    for evening in sorted((shelf / "sound").iterdir()):
        there = b"".join(samples(path) for path in sorted(evening.glob("*.wav")))
        wrong += not whole.startswith(there)
        kept.append(len(there) / len(whole))
    report.check("killed archives sound", damaged == 0, f"{damaged} of {KILLS} damaged")
    report.check("killed evenings right", wrong == 0, f"{wrong} wrong")
    parts = sum(0 < k < 1 for k in kept)
    report.check("kills while keeping", parts >= KILLS // 4, f"{parts} of {len(kept)} in part")
    done = run(binary, "shelf", "--shelf", shelf, "check")
    report.check("killed shelf checks", done.returncode == 0, done.stderr.strip()[-120:])


def is_sound(shelf):
    file = shelf / "markhold.sqlite"
    if not file.exists():
        return True
    with contextlib.closing(sqlite3.connect(file)) as archive:
        return archive.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
