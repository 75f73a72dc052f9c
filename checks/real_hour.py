"""An hour of the clock through a real sound server: what is lost, what memory does, and
whether the copy is that of the kept sound. Prints figures; run by name only.

    real_hour.py PROGRAM [MINUTES]

A private sound server plays sound with fading, noise, crashes and a pumping receiver into a
sink that nobody hears; the program listens to its monitor and keeps the evening. Then the
kept sound is copied again, and both readings are held side by side.
"""

import difflib
import json
import os
import subprocess
import sys
import tempfile
import threading
import time

import check_sound_output

TEXT = "RYRYRY CQ DE Q7LMT EVENING BULLETIN NR %d\n1. THE SPRING MEETING IS ON SATURDAY 11 APRIL IN THE OLD FERRY HOUSE.\n2. GLASS %d RISING.\n"
WAY = ["--paths", "1ms,0.5Hz", "--snr", "8", "--crashes", "0.1", "--agc", "--passband", "300,2700"]
CLIP_S = 600
RSS_EVERY_S = 600


def make_clip(program, folder):
    """Ten minutes of sound."""
    text, wav = os.path.join(folder, "text"), os.path.join(folder, "clip.wav")
    with open(text, "w") as out:
        # A character of 45.45 baud with 1.5 stop units takes 165 ms.
        out.write("".join(TEXT % (k, 990 + k) for k in range(int(CLIP_S / 0.165 / 130))))
    make = [program, "air", "--file", text, "--out", wav, "--sample-rate", "48000", *WAY]
    subprocess.run(make, check=True, capture_output=True)
    return wav


def rss_mb(pid):
    with open(f"/proc/{pid}/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmRSS")) / 1024


def keep_playing(wav, environment, stop):
    """Plays it over and over."""
    while not stop.is_set():
        player = subprocess.Popen(["paplay", f"--device={check_sound_output.SINK}", wav], env=environment, stderr=subprocess.DEVNULL)
        while player.poll() is None and not stop.wait(0.5):
            pass
        player.terminate()
        player.wait()


class Beside(threading.Thread):
    """Counts what another client of the server gets of the same monitor: a server that is
    starved of time leaves out sound, and nobody it serves is told."""

    def __init__(self, environment):
        super().__init__()
        sink = check_sound_output.SINK
        listen = ["parec", "-d", f"{sink}.monitor", "--rate", "48000", "--channels", "1", "--format", "s16le"]
        self.process = subprocess.Popen(listen, env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        self.samples = 0

    def run(self):
        while part := os.read(self.process.stdout.fileno(), 1 << 16):
            self.samples += len(part) // 2


def listen(program, environment, shelf, minutes):
    """Lets the desk listen; prints its memory as it goes."""
    command = [program, "--input", "Monitor", "--port", "0", "--shelf", shelf]
    desk = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    begun = time.monotonic()
    shown_s = 15.0
    while time.monotonic() - begun < 60 * minutes and desk.poll() is None:
        time.sleep(1)
        if time.monotonic() - begun > shown_s:
            print(f"{(time.monotonic() - begun) / 60:6.1f} min  {rss_mb(desk.pid):6.1f} MB", flush=True)
            shown_s += RSS_EVERY_S
    if desk.poll() is None:
        print(f"   end      {rss_mb(desk.pid):6.1f} MB", flush=True)
        desk.terminate()
    said = desk.communicate(timeout=120)[1]
    return time.monotonic() - begun, said


def reading(program, shelf, number):
    """A reading as objects: the evening, its signals, its characters."""
    export = [program, "shelf", "export", "1", "--shelf", shelf, "--format", "jsonl", "--reading", str(number), "--out", "-"]
    lines = subprocess.run(export, check=True, capture_output=True, text=True).stdout.splitlines()
    return [json.loads(line) for line in lines]


def characters(objects):
    return [o for o in objects if o.get("type") == "character"]


def compare(live, again):
    """How many characters are in one reading and not in the other."""
    codes = [[(o["code"], round(o["start"], 2)) for o in each] for each in (live, again)]
    if codes[0] == codes[1]:
        return 0, 0
    same = sum(block.size for block in difflib.SequenceMatcher(None, *codes, autojunk=False).get_matching_blocks())
    return len(codes[0]) - same, len(codes[1]) - same


def main():
    program = os.path.realpath(sys.argv[1])
    minutes = float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    with tempfile.TemporaryDirectory() as folder:
        wav, shelf = make_clip(program, folder), os.path.join(folder, "shelf")
        # The end of the server ends what listens beside, too.
        with check_sound_output.served(folder) as environment:
            stop = threading.Event()
            player = threading.Thread(target=keep_playing, args=(wav, environment, stop))
            player.start()
            beside = Beside(environment)
            beside.start()
            try:
                lasted_s, said = listen(program, environment, shelf, minutes)
            finally:
                stop.set()
                player.join()
        if said.strip():
            print(f"it said: {said.strip()[:1000]}")
        print(subprocess.run([program, "shelf", "check", "--shelf", shelf], capture_output=True, text=True).stdout.strip())
        print(subprocess.run([program, "shelf", "list", "--shelf", shelf], capture_output=True, text=True).stdout.strip())
        again = subprocess.run([program, "shelf", "again", "1", "--shelf", shelf, "--json"], capture_output=True, text=True)
        print(again.stdout.strip()[:600], again.stderr.strip()[:600])
        first, second = reading(program, shelf, 1), reading(program, shelf, 2)
        live, offline = characters(first), characters(second)
        only = compare(live, offline)
        print(f"{lasted_s:.0f} s of the clock; characters: {len(live)} live, {len(offline)} of the kept sound; {only[0]} only live, {only[1]} only of the kept sound")
        beside.join()
        kept_s = next(o["sound_s"] for o in first if o["type"] == "evening")
        print(f"sound kept: {kept_s:.2f} s; a recorder on the same monitor, begun a little earlier, got {beside.samples / 48000:.2f} s")


if __name__ == "__main__":
    main()
