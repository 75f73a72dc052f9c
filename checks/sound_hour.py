"""An hour of tones on a live sound output, beside whatever else keeps the computer busy.

    sound_hour.py PROGRAM [SECONDS]

A sound server of its own with a sink that nobody hears, `markhold machine us-72-45 --way tones` on it with
text for so long, and the sink's monitor listened to meanwhile: nothing is kept but where it was silent.
Says how long the sound lasted, its longest pause, each pause of a millisecond or more, and how busy the
computer was. Figures, no verdict.
"""

import os
import subprocess
import sys
import tempfile
import time

import numpy as np

from check_sound_output import RATE, SINK, served

# Twelve lines of it make a paragraph; what it says does not matter.
TEXT = "GOOD EVENING ALL FROM THE HARBOUR CLUB DE Q1ABC THE NEXT BULLETIN IS AT 1930\n"
CHARACTERS_PER_SECOND = (1 / 0.022) / 7.5
# Half of the tones' level: a tone passes it in every half turn.
LOUD = 0.2
PAUSE_S = 1e-3


class Heard:
    """Where it was loud, as it comes."""

    def __init__(self):
        self.count, self.first, self.last = 0, None, None
        self.longest, self.pauses = 0, []

    def take(self, block):
        loud = np.nonzero(np.abs(block) > LOUD)[0] + self.count
        self.count += len(block)
        if len(loud) == 0:
            return
        if self.first is None:
            self.first = self.last = loud[0]
        gaps = np.diff(np.concatenate(([self.last], loud)))
        self.longest = max(self.longest, int(gaps.max()))
        for k in np.nonzero(gaps > PAUSE_S * RATE)[0]:
            self.pauses.append(((loud[k] - self.first) / RATE, gaps[k] / RATE))
        self.last = loud[-1]

    def told(self):
        if self.first is None:
            return "nothing was heard"
        lasted = (self.last - self.first) / RATE
        each = "".join(f"\n  a pause of {1e3 * long:.2f} ms after {at:.1f} s" for at, long in self.pauses[:50])
        return f"{lasted:.1f} s of sound, longest pause {1e3 * self.longest / RATE:.2f} ms, {len(self.pauses)} of a millisecond or more{each}"


def idle():
    """Time that all processors spent idle, and all time, in ticks."""
    with open("/proc/stat") as stat:
        ticks = [int(word) for word in stat.readline().split()[1:]]
    return ticks[3] + ticks[4], sum(ticks)


def listen(listener, player, heard):
    """Until the player has ended and its sound has passed."""
    ended = None
    while ended is None or time.monotonic() - ended < 2:
        block = listener.stdout.read(RATE * 4)
        heard.take(np.frombuffer(block[: len(block) // 4 * 4], "<f4"))
        if ended is None and player.poll() is not None:
            ended = time.monotonic()


def main():
    binary, seconds = sys.argv[1], float(sys.argv[2]) if len(sys.argv) > 2 else 3600
    heard = Heard()
    with tempfile.TemporaryDirectory() as folder, served(folder, "--realtime=yes", "--high-priority=yes") as environment:
        text = os.path.join(folder, "text")
        with open(text, "w") as out:
            # Line ends and shifts make it somewhat longer.
            out.write(TEXT * int(1 + seconds * CHARACTERS_PER_SECOND / len(TEXT)))
        record = ["parec", "-d", f"{SINK}.monitor", "--rate", str(RATE), "--channels", "1", "--format", "float32le", "--latency-msec", "100"]
        listener = subprocess.Popen(record, env=environment, stdout=subprocess.PIPE)
        before = idle()
        play = [binary, "machine", "us-72-45", text, "--way", "tones", "--settings", "/dev/null"]
        player = subprocess.Popen(play, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        listen(listener, player, heard)
        after = idle()
        listener.kill()
    busy = 1 - (after[0] - before[0]) / (after[1] - before[1])
    print(f"{heard.told()}; exit {player.returncode}: {player.stdout.read().strip()[-400:]}")
    print(f"processors busy for {100 * busy:.0f} % of the time, load at the end {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
