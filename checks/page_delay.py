"""How soon a character is on the page: from the end of its stop element, as it leaves a real
sound server, to the picture of the browser that shows its first reading. Prints figures, no
verdict; run by name only.

    page_delay.py PROGRAM [SECONDS]

A private sound server plays text of known times into a sink that nobody hears. The desk
listens to the sink's monitor and is looked at in Chromium; a recorder beside it listens to
the same monitor and notes when each sample came. All clocks are that of this machine.
"""

import os
import subprocess
import sys
import tempfile
import threading
import time

import numpy as np

import air
import check_sound_output
import sender
from check_desk import chromium, desk, until

TARGET_MS = 350
RATE, BAUD, STOP, LEAD_S = 48000, 1 / 0.022, 1.5, 3.0
MARK_HZ, SPACE_HZ, AMPLITUDE, ESN0_DB, SEED = 2125, 2295, 0.2, 20.0, 5
FOUND_S = 10.0  # the signal is searched for at first; characters from here on count
SAME_S = 0.03  # a reading belongs to the character that began this near
# A reading is on the page with the picture after the one in which the sheet was typed.
WATCH = """
window.readings = [];
const fresh = [];
window.WebSocket = class extends WebSocket {
  constructor(...all) {
    super(...all);
    this.addEventListener("message", ({ data }) => {
      const said = typeof data === "string" ? JSON.parse(data) : {};
      const event = said.is === "report" && said.value.report === "event" ? said.value.value : {};
      if (event.type === "early" || event.type === "character") {
        fresh.push({ type: event.type, start: event.start, code: event.code, came: performance.timeOrigin + performance.now() });
      }
    });
  }
};
addEventListener("DOMContentLoaded", () => {
  new MutationObserver(() => {
    const typed = fresh.splice(0);
    requestAnimationFrame(() => {
      const at = performance.timeOrigin + performance.now();
      typed.forEach((reading) => window.readings.push({ ...reading, at }));
    });
  }).observe(document.getElementById("sheet"), { childList: true, subtree: true, characterData: true });
});
"""


class Recorder(threading.Thread):
    """Listens to the monitor; notes how many samples had come when."""

    def __init__(self, environment):
        super().__init__()
        listen = ["parec", "-d", f"{check_sound_output.SINK}.monitor", "--rate", str(RATE), "--channels", "1", "--format", "s16le", "--latency-msec", "5"]
        self.process = subprocess.Popen(listen, env=environment, stdout=subprocess.PIPE)
        self.parts, self.marks, self.count = [], [], 0

    def run(self):
        while part := os.read(self.process.stdout.fileno(), 1 << 16):
            now = time.time()
            self.parts.append(part)
            self.count += len(part) // 2
            self.marks.append((self.count, now))

    def stop(self):
        self.process.terminate()
        self.join()
        samples = np.frombuffer(b"".join(self.parts)[: 2 * self.count], "<i2")
        return samples / 32768, np.array(self.marks)


def sound(codes):
    """The signal with a little noise, and when each character begins, s."""
    line = sender.key(codes, BAUD, STOP, 0.0, LEAD_S, 1.0)
    t = np.arange(int(line.end * RATE)) / RATE
    rng = np.random.default_rng(SEED)
    wave = sender.Transmitter(line, MARK_HZ, SPACE_HZ, rng).wave(t).real * AMPLITUDE
    # Noise density of a signal of power 1/2 at amplitude 1, scaled with it.
    noise = air.white(rng, len(t), air.noise_density(ESN0_DB, BAUD), RATE) * AMPLITUDE
    return np.round((wave + noise) * 32767).astype("<i2"), line.element_begin


def heard(program, codes, samples):
    """Readings as the page showed them, and what the recorder got."""
    with tempfile.TemporaryDirectory() as folder:
        with check_sound_output.served(folder) as environment, desk(program, "--input", "Monitor", practice=False, environment=environment) as (_, address, _):
            recorder = Recorder(environment)
            try:
                recorder.start()
                with chromium() as browser:
                    page = browser.new_page(viewport={"width": 1280, "height": 800})
                    page.add_init_script(WATCH)
                    page.goto(address)
                    until(page, "the page", "window.desk !== undefined")
                    play = ["pacat", "-d", check_sound_output.SINK, "--rate", str(RATE), "--channels", "1", "--format", "s16le"]
                    player = subprocess.Popen(play, env=environment, stdin=subprocess.PIPE)
                    player.stdin.write(samples.tobytes())
                    player.stdin.close()
                    while player.poll() is None:
                        page.wait_for_timeout(200)
                    page.wait_for_timeout(4000)
                    readings = page.evaluate("window.readings")
            finally:
                recorded = recorder.stop()
        return readings, recorded


def offset_s(readings, codes, begins):
    """How much later a character begins by the desk's time than by the sound's."""
    pairs = [r["start"] - begins[k] for r in readings for k in np.flatnonzero(codes == r["code"])]
    middles = np.round(np.array(pairs) / 0.02).astype(int)
    best = np.bincount(middles - middles.min()).argmax() + middles.min()
    return float(np.median([p for p, m in zip(pairs, middles) if abs(m - best) <= 1]))


def delays_ms(readings, codes, begins, samples, marks):
    """From the end of each stop element to the page; missing first readings are left out."""
    onset = np.flatnonzero(np.abs(samples) > AMPLITUDE / 2)[0]
    later_s = offset_s(readings, codes, begins)
    delays = {"early": [], "character": []}
    for begin in begins[begins > FOUND_S]:
        end = onset + (begin + (6 + STOP) / BAUD) * RATE
        left_at = marks[min(np.searchsorted(marks[:, 0], end), len(marks) - 1), 1]
        for kind, found in delays.items():
            of = [r for r in readings if r["type"] == kind and abs(r["start"] - later_s - begin) < SAME_S]
            if of:
                found.append(min(r["at"] for r in of) - 1000 * left_at)
    return {kind: np.array(found) for kind, found in delays.items()}


def main():
    program = os.path.realpath(sys.argv[1])
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    rng = np.random.default_rng(SEED)
    # Letters of the letters shift, so that nothing depends on shifts.
    letters = [c for c in range(32) if c not in (0, 2, 8, 27, 31)]
    codes = np.concatenate(([31], rng.choice(letters, int(seconds * BAUD / (6 + STOP)))))
    samples, begins = sound(codes)
    readings, (heard_samples, marks) = heard(program, codes, samples)
    delays = delays_ms(readings, codes, begins, heard_samples, marks)
    for kind, name in (("early", "first reading"), ("character", "decided")):
        d = delays[kind]
        if len(d) == 0:
            print(f"{name}: none")
            continue
        median, late, worst = np.median(d), np.percentile(d, 95), d.max()
        print(f"{name}: {len(d)} of {np.sum(begins > FOUND_S)} characters; median {median:.0f} ms, 95 % within {late:.0f} ms, worst {worst:.0f} ms")
    early = delays["early"]
    if len(early):
        print(f"target {TARGET_MS} ms: {100 * np.mean(early <= TARGET_MS):.1f} % of first readings within it; load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
