"""What is written for people and scripts, held to the program.

* Every line that `--json` prints is valid by docs/json-lines.schema.json (PyPI's `jsonschema`), and every kind of line that
  can be had here was had.
* docs/reference.md is what the program's own definitions make.
* docs/layouts.md names the tables and columns of a real archive, and the messages of the program, and no others.
"""

import contextlib
import json
import pathlib
import re
import sqlite3
import tempfile

import json_lines
import manual_lines

ROOT = pathlib.Path(__file__).resolve().parent.parent
LAYOUTS = ROOT / "docs" / "layouts.md"
TEXT = "CQ CQ DE Q1LMC LOW MARSH BULLETIN NR 1{} THE FERRY LEAVES THE JETTY AT NINE AND AT FOUR = NNNN"


def run(binary, folder, *words, told=""):
    return manual_lines.run(binary, folder, None, *words, told=told)


def lines(binary, folder):
    """Every line that some commands print with --json, with the command."""
    # The first so faint that the joint copy has doubt left.
    for number, seed, es_n0 in ((7, 1, "4"), (7, 2, "7"), (8, 3, "9")):
        run(binary, folder, "air", TEXT.format(number), "--es-n0", es_n0, "--lead", "2", "--seed", str(seed), "--out", f"{seed}.wav")
        run(binary, folder, "shelf", "--shelf", "kept", "add", f"{seed}.wav")
    (folder / "text.txt").write_text(TEXT.format(9) + "\n")
    (folder / "settings.toml").write_text('[receiver]\nshows = "lower-carrier"\n[shelf]\nlern = true\n')
    (folder / "club.ics").write_text(manual_lines.CALENDAR.replace("\n", "\r\n"))
    run(binary, folder, "bench", "pattern", "combinations", "--rate", "50", "--bias=-20", "--out", "pattern.wav")
    run(binary, folder, "contacts", "--shelf", "kept", "add", "Q2HLR", "--report", "599", "--got", "579", "--khz", "3583", "--name", "JON")
    shelf, skeds = ["shelf", "--shelf", "kept"], ["skeds", "--shelf", "kept"]
    for words in (
        ["copy", "--json", "--early", "1.wav", "2.wav"],
        [*shelf, "list", "--json"], [*shelf, "show", "last", "--json"], [*shelf, "show", "1", "--json"], [*shelf, "search", "FERRY", "--json"],
        [*shelf, "check", "--json"], [*shelf, "learn", "--json"], [*shelf, "join", "1", "2", "3", "--json"],
        [*shelf, "compare", "1", "text.txt", "--json"],
        [*skeds, "add", "Low Marsh", "--station", "Q1LMC", "--at", "2026-01-04T20:00", "--zone", "Europe/London",
         "--rule", "FREQ=WEEKLY;BYDAY=SU", "--on", "3595.2,mark", "--length", "20", "--json"],
        [*skeds, "--settings", "settings.toml", "next", "--json"], [*skeds, "--settings", "settings.toml", "heard", "1", "--dial", "3597.9", "--json"],
        [*skeds, "--settings", "settings.toml", "dial", "3597.9", "--json"],
        [*skeds, "import", "club.ics", "--json"], [*skeds, "list", "--json"], [*skeds, "past", "--json"],
        ["contacts", "--shelf", "kept", "list", "--json"],
        ["bench", "measure", "pattern.wav", "--json"], ["bench", "loop", "--supply", "120", "--current", "60mA", "--json"],
        ["bench", "range", "alternating", "--out", "trial.wav", "--json"],
        ["check", "--json", "--listen", "1", "--shelf", "kept", "--settings", "settings.toml"],
    ):
        # Who is asked whether it was printed right answers so.
        done = run(binary, folder, *words, told="r\nw\n" * 60 if "range" in words else "")
        yield from ((" ".join(words), json.loads(line)) for line in done.stdout.splitlines())


def check_lines(report, binary, folder):
    known = json_lines.validators()
    count, wrong, had, same = 0, {}, set(), {}
    for command, line in lines(binary, folder):
        kind = line.get("type")
        count, had = count + 1, had | {kind}
        others = [other["code"] for other in line.get("alternatives", [])]
        if len({line.get("code"), *others}) != 1 + len(others):
            same[kind] = f"{command}: {line['code']} or {others}"
        if why := json_lines.fault(known, line):
            wrong.setdefault((command, kind), why)
    said = "".join(f"\n      {command}: {kind}: {str(why)[:300]}" for (command, kind), why in wrong.items())
    report.check("reference: lines are valid by the schema", count > 100 and not wrong, f"{count} lines{said}")
    report.check("reference: alternatives are other codes", {"early", "character"} <= had and not same, "; ".join(same.values()))
    report.equal("reference: kinds of line that were not had", sorted(set(known) - had - set(json_lines.HAD_ELSEWHERE)), [])
    report.check("reference: the schema tells a spoilt line", json_lines.fault(known, dict(line, version=0)) is not None)


def check_page(report, binary, folder):
    done = run(binary, folder, "manual", "made")
    made = folder / "made" / "reference.md"
    page = ROOT / "docs" / "reference.md"
    same = done.returncode == 0 and made.read_text() == page.read_text()
    report.check("reference: docs/reference.md is what the program makes (make reference)", same, done.stderr[-200:])


def rows(text, below):
    """First cells and last cells of the table below a heading, each as the words in backticks."""
    part = re.split(r"^#", text.split(f"# {below}\n", 1)[1], maxsplit=1, flags=re.M)[0]
    for line in re.findall(r"^\| `.*\|$(?!\n\|-)", part, re.M):  # not the head
        cells = [re.findall(r"`([^`]+)`", cell) for cell in line.strip("|").split(" | ")]
        yield cells[0], cells[-1]


def check_archive(report, folder):
    told = {name: columns for [name], columns in rows(LAYOUTS.read_text(), "The archive")}
    with contextlib.closing(sqlite3.connect(folder / "kept" / "markhold.sqlite")) as archive:
        names = [name for (name,) in archive.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        # Those of the index of words, and SQLite's own.
        names = [name for name in names if not re.match(r"(sent_)?words|sqlite_", name)]
        real = {name: [row[1] for row in archive.execute(f"PRAGMA table_info({name})")] for name in names}
        version = archive.execute("PRAGMA user_version").fetchone()[0]
    differ = {name for name in told.keys() | real.keys() if sorted(told.get(name, [])) != sorted(real.get(name, []))}
    report.check("reference: the archive is laid out as docs/layouts.md says", len(real) > 10 and not differ, f"{len(real)} tables {differ or ''}")
    report.check("reference: and has the version that it says", f"layout, {version} now" in LAYOUTS.read_text(), f"version {version}")


def variants(file, name):
    """The names of an enum of the program as they are written."""
    text = (ROOT / "crates" / file).read_text()
    body = re.search(rf"enum {name}(?:<'a>)? \{{\n(.*?)^\}}", text, re.S | re.M)[1]
    return {re.sub(r"(?<!^)([A-Z])", r"-\1", word).lower() for word in re.findall(r"^    ([A-Z]\w*)", body, re.M)}


def check_messages(report):
    text, say = LAYOUTS.read_text(), "markhold-desk/src/say.rs"
    # The table of reports stands below that of what the program says.
    said, reports = text.split("### The program says\n")[1].split("\nReports:\n")
    text = text.replace(f"{said}\nReports:\n", f"{said}\n### Reports\n")
    for below, real in (
        ("The program says", variants(say, "Say")),
        ("Reports", variants("markhold-station/src/report.rs", "Report")),
        ("The page asks", variants(say, "View") | variants("markhold-station/src/wish.rs", "Wish")),
        ("Notes beside the sound", variants("markhold-shelf/src/notes.rs", "Note")),
    ):
        told = {name for names, _ in rows(text, below) for name in names}
        report.equal(f"reference: docs/layouts.md, {below.lower()}", sorted(told ^ real), [])


def checks(report, binary):
    """All of the above."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        check_lines(report, binary, folder)
        check_page(report, binary, folder)
        check_archive(report, folder)
        check_messages(report)
