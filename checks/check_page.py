"""What leaves for a page printer, and pictures of its page, against outside witnesses.

The program sends text as tones into a file; the characters and their times are read from
the samples here. Sources: PyPI `baudot` (alphabets), Python's `textwrap` (words kept
whole), PyPI `pypdf` and the standard library's XML and HTML parsers (pages); the times from
the first carriage return to the next printing character are arithmetic on the character
times of the US Army and US Navy training texts (45.45 Bd, 7.42 units; 50, 75 and 100 Bd,
7.5 units).
"""

import subprocess
import tempfile
import textwrap
import tomllib
import wave
import xml.etree.ElementTree as xml
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pypdf
from baudot.codecs import ITA2_STANDARD, ITA2_US

MARK, SPACE = 2125.0, 2295.0
TEXT = (
    "A LOW WEST OF THE ISLANDS MOVES EAST AND DEEPENS, WIND SOUTHWEST 5 TO 6, LATER VEERING "
    "NORTHWEST 7 WITH RAIN AND POOR VISIBILITY. NEXT NET 12 APRIL 1015 UTC ON 3587 KHZ.\n"
    "CALL Q7LMT (RELIEF Q5EFG): 73\n"
)
# Baud, units, then ms for CR LF, CR CR LF and CR CR LF LTRS.
RETURNS = ((1 / 0.022, 7.42, 326, 490, 653), (50, 7.5, 300, 450, 600), (75, 7.5, 200, 300, 400), (100, 7.5, 150, 225, 300))
ENDS = ("CR LF", "CR CR LF", "CR CR LF LTRS")


def run(binary, *words):
    """The program's standard output; an empty settings file, so that none of the user's is read."""
    with tempfile.NamedTemporaryFile(suffix=".toml") as settings:
        done = subprocess.run([binary, *words, "--settings", settings.name], capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(done.stderr)
    return done.stdout


def received(path, baud):
    """[(s, code)] of start-stop tones without noise: which of the two is louder over half an
    element, and the middle of every element counted from its start."""
    with wave.open(str(path)) as file:
        rate = file.getframerate()
        x = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(float)
    n = np.arange(len(x))
    width = int(rate / baud / 2)
    loud = [np.abs(np.convolve(x * np.exp(-2j * np.pi * hz / rate * n), np.ones(width), "same")) for hz in (MARK, SPACE)]
    mark = loud[0] >= loud[1]
    characters, at, element = [], 0, rate / baud
    while True:
        starts = np.flatnonzero(~mark[at:])
        if len(starts) == 0 or at + starts[0] + 6.5 * element > len(mark):
            return characters
        start = at + starts[0]
        elements = [mark[int(start + (k + 1.5) * element)] for k in range(5)]
        characters.append((start / rate, sum(int(e) << k for k, e in enumerate(elements))))
        at = int(start + 6.5 * element)


def meanings(characters, codec, unshift):
    """[(s, what)]: a printed character, or the name of a control."""
    tables = {shift.name: codec.decoding_table[shift] for shift in codec.shifts}
    shift, out = "Letters", []
    for at, code in characters:
        place = tables[shift][code]
        if not isinstance(place, str):
            shift, place = place.name, ""
        elif place == " " and unshift:
            shift = "Letters"
        out.append((at, place))
    return out


def sent(binary, kind, text, *more):
    """What the machine gets of a text, read from the tones."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "line.wav"
        run(binary, "machine", kind, "--text", text, "--way", f"tones-file:{path}", *more)
        keys = tomllib.loads(run(binary, "machine", kind, *more))["machine"][kind]
        codec = ITA2_US if keys["figures"] == "us" else ITA2_STANDARD
        return keys, meanings(received(path, keys["rate_baud"]), codec, keys["unshift_on_space"])


def first_return(characters):
    """s from the first CR after print to the next character that moves the carriage."""
    times, returned, away = [], None, False
    for at, what in characters:
        if what == "\r" and away:
            returned, away = at, False
        elif what and what >= " ":
            if returned is not None:
                times.append(at - returned)
            returned, away = None, True
    return times


def wrapping(report, binary):
    """Every ready-made machine: the text whole and in words, and time for the carriage."""
    names = [line.split()[0] for line in run(binary, "machine").splitlines()]
    for name in names:
        keys, characters = sent(binary, name, TEXT)
        width = keys["columns"] - (keys["at_margin"] == "new-line")
        lines = "".join(what for _, what in characters).replace("\r", "").strip("\n").split("\n")
        expected = [line for part in TEXT.splitlines() for line in textwrap.wrap(part, width, break_on_hyphens=False)]
        report.check(f"{name}: the whole text, in words as textwrap keeps them", lines == expected)
        shortest = min(first_return(characters))
        # Starts are read to half an element's rounding of the tones' glide.
        report.check(f"{name}: time for the carriage", shortest >= keys["return_s"] - 0.002,
                     f"{shortest * 1e3:.0f} ms, needed {float(keys['return_s']) * 1e3:.0f} ms")  # fmt: skip


def returns(report, binary):
    """Line endings without fill take the times of the table."""
    for baud, units, *times in RETURNS:
        for end, ms in zip(ENDS, times):
            more = [f"rate_baud={baud!r}", f"stop_units={units - 6:.2f}", f"line_end={end}", "return_s=0", "shift_after_line=false"]
            _, characters = sent(binary, "us-72-45", "A\nB\n", *(word for key in more for word in ("--set", key)))
            report.near(f"CR to print, {end} at {baud:.2f} baud, ms", first_return(characters)[0] * 1e3, ms, 1.5)


class Pre(HTMLParser):
    """The text of <pre>, a line for each <div>."""

    def __init__(self):
        super().__init__()
        self.lines, self.inside = [], False

    def handle_starttag(self, tag, attrs):
        self.inside |= tag == "pre"
        if tag == "div":
            self.lines.append("")

    def handle_data(self, data):
        if self.inside and self.lines:
            self.lines[-1] += data.rstrip("\n")


def pages(report, binary):
    """The same page read back from PDF, HTML and SVG by other people's parsers."""
    with tempfile.TemporaryDirectory() as folder:
        path = {kind: str(Path(folder) / f"page.{kind}") for kind in ("txt", "pdf", "html", "svg")}
        for file in path.values():
            run(binary, "machine", "ita2-69-50", "--text", TEXT, "--page", file)
        lines = [line for line in Path(path["txt"]).read_text().splitlines() if line]
        pdf = pypdf.PdfReader(path["pdf"]).pages[0].extract_text()
        report.equal("page from PDF by pypdf", [line.strip() for line in pdf.splitlines() if line.strip()] == lines, True)
        html = Pre()
        html.feed(Path(path["html"]).read_text())
        report.equal("page from HTML by html.parser", [line for line in html.lines if line] == lines, True)
        svg = xml.parse(path["svg"])
        uses = svg.findall(".//{http://www.w3.org/2000/svg}use")
        report.equal("strikes in SVG by ElementTree", len(uses), len("".join(lines).replace(" ", "")))
        rows = sorted({float(use.get("y")) for use in uses})
        report.equal("lines in SVG", len(rows), len(lines))


def checks(report, binary):
    """All of the page."""
    wrapping(report, binary)
    returns(report, binary)
    pages(report, binary)
