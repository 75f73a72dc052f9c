"""The command lines of README and docs: found, and what they need laid beside them."""

import pathlib
import re
import shlex
import shutil
import subprocess

ROOT = pathlib.Path(__file__).resolve().parent.parent
COMMANDS = ("air", "bench", "check", "contacts", "copy", "machine", "manual", "send", "shelf", "skeds")
# What a person puts in the place of words in capitals.
STANDS_FOR = {"NAME": "us-72-45", "FILE": "evening.wav", "TEXT": "heard well", "DIR": "kept-here", "DATE": "2026-01-01", "off|mark|on": "mark"}
TEXT = "ZCZC DE Q1ABC LOW MARSH BULLETIN NR 17 THE FERRY LEAVES THE JETTY AT NINE NNNN"
SETTINGS = """[receiver]
shows = "lower-carrier"
[machine.shack]
kind = "us-72-45"
way = "tones-file:shack.wav"
[transmitter]
call = "Q1ABC"
"""
CALENDAR = """BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//invented//EN
BEGIN:VEVENT
UID:1@invented
SUMMARY:Low Marsh bulletin
DTSTART:20260104T200000Z
DURATION:PT20M
END:VEVENT
END:VCALENDAR
"""
CONTACTS = "<ADIF_VER:5>3.1.4<EOH><CALL:5>Q2HLR<QSO_DATE:8>20260104<TIME_ON:4>1930<MODE:4>RTTY<BAND:3>80M<EOR>\n"
EVENINGS = 17


def command_lines():
    """(file, whether it stands in a block of its own, words) of every command line in README and docs."""
    for file in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        if file.name == "reference.md":
            continue
        text = re.sub(r" \\\n +", " ", file.read_text())
        blocks = re.findall(r"^    (?:[^\n|]*\| )?(markhold(?: [^\n]*)?)$", text, re.M)
        inline = re.findall(r"`(?:[^`|]*\\?\| )?(markhold(?: [^`]*)?)`", text)
        # Short for those of a command: `shelf show last`.
        inline += [f"markhold {line}" for line in re.findall(rf"`((?:{'|'.join(COMMANDS)}) [^`]*)`", text)]
        for block, line in [*((True, line) for line in blocks), *((False, line) for line in inline)]:
            yield file.name, block, shlex.split(line.replace("\\|", "|"), comments=True)


def meant(words):
    """The words with what a person puts for those in capitals."""
    return [re.sub(r"^(\w+)=.*", r"\g<0>", STANDS_FOR.get(word, word)) for word in words]


def run(binary, folder, environment, *words, told=""):
    return subprocess.run([binary, *words], cwd=folder, env=environment, capture_output=True, text=True, timeout=240, input=told)


def lay_out(binary, folder, environment):
    """What the manual takes to be there: recordings, texts, settings, a shelf with evenings and skeds."""
    settings = pathlib.Path(environment["XDG_CONFIG_HOME"]) / "markhold" / "settings.toml"
    settings.parent.mkdir(parents=True)
    settings.write_text(SETTINGS)
    for name, text in (("notice.txt", "THE FERRY"), ("bulletin.txt", TEXT), ("club.ics", CALENDAR.replace("\n", "\r\n")), ("club.adi", CONTACTS)):
        (folder / name).write_text(text + "\n")
    # As in "copy the one near 1700 Hz": 50 baud, 425 Hz, mark the higher tone.
    made = run(binary, folder, environment, "air", TEXT, "--es-n0", "16", "--lead", "2", "--rate", "50", "--shift", "425", "--centre", "1700",
               "--mark", "higher", "--out", "evening.wav")
    for seed, name in ((1, "receiver.wav"), (2, "friend.wav")):
        run(binary, folder, environment, "air", TEXT, "--es-n0", "9", "--lead", "2", "--seed", str(seed), "--out", name)
    (folder / "friend.wav").rename(folder / "friend.flac")  # what a recording is, its content says
    for name, same in (("a.wav", "receiver.wav"), ("b.wav", "friend.flac"), ("practice.wav", "receiver.wav")):
        shutil.copy(folder / same, folder / name)
    run(binary, folder, environment, "bench", "pattern", "combinations", "--out", "pattern.wav")
    for number in range(EVENINGS):  # the signals of evening.wav and receiver.wav by turns
        run(binary, folder, environment, "shelf", "add", ("evening.wav", "receiver.wav")[number % 2])
    run(binary, folder, environment, "contacts", "add", "Q2HLR", "--khz", "3583")
    for _ in range(3):
        run(binary, folder, environment, "skeds", "add", "Low Marsh", "--at", "2026-01-04T20:00", "--rule", "FREQ=WEEKLY", "--on", "3595.2,mark")
    return made.stderr
