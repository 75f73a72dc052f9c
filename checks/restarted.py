"""What a kill and a restart in the middle of a bulletin cost: the real program, a real sound server, real time.

`markhold skeds watch` listens for a sked; some twenty seconds into its bulletin the program is killed, twenty later it is
told to end, and each time it is started again after as long as the unit of `markhold skeds service` says. What nobody
heard is missing, and nothing more may be: the characters of that time, and one cut at each seam. Figures, and a
verdict by them. Takes two minutes; needs pulseaudio and its tools.

    restarted.py [BINARY]   target/release/markhold unless said
"""

import datetime as dt
import difflib
import json
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time

from check_sound_output import SINK, served

WORDS = "TIDE LANTERN ROPEWALK MARSH FERRY NORTH SLUICE HARBOUR WEATHER SHALLOW BEACON MILL QUIET EASTERLY JETTY BARLEY".split()
# 45.45 baud and 7.5 elements a character.
PER_S, LONG_S, APART_S, PATIENCE_S = 45.45 / 7.5, 60, 20, 120


def bulletin():
    """The words again and again, each time in another order."""
    chance, words = random.Random(1), []
    while len(" ".join(words)) < LONG_S * PER_S:
        words += chance.sample(WORDS, len(WORDS))
    return f"ZCZC DE Q1LMC {' '.join(words)} NNNN"


def restart_s(command):
    """How long the service manager waits before it starts the program again."""
    unit = subprocess.run([*command, "service"], capture_output=True, text=True, check=True).stdout
    count, unit = re.search(r"^RestartSec=(\d+)(ms|s)?$", unit, re.M).groups()
    return int(count) / (1000 if unit == "ms" else 1)


def is_copied(binary, shelf):
    """Whether all that was heard in the evenings that have ended is copied, but for less than a few characters."""
    best = [evening["readings"][evening["best"] - 1] for evening in listed(binary, shelf) if evening["end"]]
    return all(reading["copied_s"] > reading["heard_s"] - 0.6 for reading in best)


def broken_off(watch, wait_s, sound, environment, copied):
    """Plays the bulletin, and breaks the program off twice."""
    program = subprocess.Popen(watch, env=environment, stderr=subprocess.DEVNULL)
    time.sleep(5)
    player = subprocess.Popen(["paplay", f"--device={SINK}", sound], env=environment)
    for how in (signal.SIGKILL, signal.SIGTERM):
        time.sleep(APART_S)
        program.send_signal(how)
        program.wait(30)
        time.sleep(wait_s)
        program = subprocess.Popen(watch, env=environment, stderr=subprocess.DEVNULL)
    player.wait(3 * LONG_S)
    # What the kill left is copied again after the next start, behind everybody.
    until = time.monotonic() + PATIENCE_S
    while not copied() and time.monotonic() < until:
        time.sleep(1)
    time.sleep(5)
    program.send_signal(signal.SIGTERM)
    program.wait(30)


def listed(binary, shelf):
    lines = subprocess.run([binary, "shelf", "--shelf", shelf, "list", "--json"], capture_output=True, text=True, check=True).stdout
    return [json.loads(line) for line in lines.splitlines()]


def evenings(binary, shelf):
    """Begin and end in seconds, and the copy, of each evening."""
    for evening in listed(binary, shelf):
        begin = dt.datetime.fromisoformat(evening["begin"]).timestamp()
        show = [binary, "shelf", "--shelf", shelf, "show", str(evening["number"])]
        copy = subprocess.run(show, capture_output=True, text=True, check=True).stdout
        lines = re.findall(r"^\d\d:\d\d:\d\d  (.*)", copy, re.M)
        yield begin, begin + evening["sound_s"], "".join(lines)


def main(binary):
    sent = bulletin()
    with tempfile.TemporaryDirectory() as folder:
        sound, shelf, settings = f"{folder}/bulletin.wav", f"{folder}/shelf", f"{folder}/settings.toml"
        subprocess.run([binary, "air", sent, "--es-n0", "20", "--lead", "1", "--out", sound], check=True, capture_output=True)
        with open(settings, "w") as file:
            file.write("[skeds]\nearly_min = 0.5\nlate_min = 1\nquiet_min = 0.3\n")
        command = [binary, "skeds", "--shelf", shelf]
        now = dt.datetime.now(dt.timezone.utc).strftime("%Y-%m-%dT%H:%M")
        subprocess.run([*command, "add", "News", "--station", "Q1LMC", "--at", now, "--length", "3"], check=True, capture_output=True)
        with served(folder) as environment:
            watch = [*command, "watch", "--settings", settings, "--input", f"pulseaudio:{SINK}.monitor"]
            broken_off(watch, restart_s(command), sound, environment, lambda: is_copied(binary, shelf))
        return told(sent, list(evenings(binary, shelf)))


def told(sent, kept):
    """Says what is missing where; whether it is no more than what nobody heard."""
    copy, fine = "".join(text for *_, text in kept), len(kept) == 3
    gaps = [after[0] - before[1] for before, after in zip(kept, kept[1:])]
    for how, gap in zip(("killed", "told to end"), gaps):
        print(f"{how}: nobody listened for {gap:.2f} s, in which {gap * PER_S:.1f} characters were sent")
    different = difflib.SequenceMatcher(None, sent, copy, autojunk=False).get_opcodes()
    missing = [sent[a:b] for what, a, b, *_ in different if what in ("delete", "replace")]
    print(f"missing of {len(sent)} characters: {missing}")
    for number, (*_, text) in enumerate(kept, 1):
        print(f"evening {number}: {text[:40]} ... {text[-40:]}")
    return fine and sum(map(len, missing)) <= sum(gaps) * PER_S + 2 * len(gaps)


if __name__ == "__main__":
    sys.exit(0 if main(os.path.abspath(sys.argv[1] if len(sys.argv) > 1 else "target/release/markhold")) else 1)
