"""What is written for people and scripts, held to the program.

* Every line that `--json` prints is valid by docs/json-lines.schema.json (PyPI's `jsonschema`), and every kind of line that
  can be had here was had.
* docs/reference.md is what the program's own definitions make.
* Every command line in README and docs names commands and options that there are; those of the first evening that can run
  here do.
"""

import json
import pathlib
import re
import shlex
import subprocess
import tempfile

from jsonschema import Draft202012Validator

ROOT = pathlib.Path(__file__).resolve().parent.parent
SCHEMA = ROOT / "docs" / "json-lines.schema.json"
# Kinds that only hours of listening, or sending, give.
NOT_HAD = {"run", "known", "unlikely", "sent"}
TEXT = "CQ CQ DE Q1LMC LOW MARSH BULLETIN NR 1{} THE FERRY LEAVES THE JETTY AT NINE AND AT FOUR = NNNN"
CALENDAR = """BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//invented//EN
BEGIN:VEVENT
UID:1@invented
SUMMARY:Nothing is said of a frequency
DTSTART:20260104T200000Z
DURATION:PT20M
END:VEVENT
END:VCALENDAR
"""


def run(binary, folder, *words, told=""):
    return subprocess.run([binary, *words], cwd=folder, capture_output=True, text=True, timeout=300, input=told)


def lines(binary, folder):
    """Every line that some commands print with --json, with the command."""
    # The first so faint that the joint copy has doubt left.
    for number, seed, es_n0 in ((7, 1, "4"), (7, 2, "7"), (8, 3, "9")):
        run(binary, folder, "air", TEXT.format(number), "--es-n0", es_n0, "--lead", "2", "--seed", str(seed), "--out", f"{seed}.wav")
        run(binary, folder, "shelf", "--shelf", "kept", "add", f"{seed}.wav")
    (folder / "text.txt").write_text(TEXT.format(9) + "\n")
    (folder / "settings.toml").write_text('[receiver]\nshows = "lower-carrier"\n[shelf]\nlern = true\n')
    (folder / "club.ics").write_text(CALENDAR.replace("\n", "\r\n"))
    run(binary, folder, "bench", "pattern", "combinations", "--rate", "50", "--bias=-20", "--out", "pattern.wav")
    run(binary, folder, "contacts", "--shelf", "kept", "add", "Q2HLR", "--report", "599", "--got", "579", "--khz", "3583", "--name", "JON")
    shelf, skeds = ["shelf", "--shelf", "kept"], ["skeds", "--shelf", "kept"]
    for words in (
        ["copy", "--json", "--early", "1.wav", "2.wav"],
        [*shelf, "list", "--json"], [*shelf, "show", "last", "--json"], [*shelf, "search", "FERRY", "--json"],
        [*shelf, "check", "--json"], [*shelf, "learn", "--json"], [*shelf, "join", "1", "2", "3", "--json"],
        [*shelf, "compare", "1", "text.txt", "--json"],
        [*skeds, "add", "Low Marsh", "--station", "Q1LMC", "--at", "2026-01-04T20:00", "--zone", "Europe/London",
         "--rule", "FREQ=WEEKLY;BYDAY=SU", "--on", "3595.2,mark", "--length", "20", "--json"],
        [*skeds, "--settings", "settings.toml", "next", "--json"], [*skeds, "--settings", "settings.toml", "heard", "1", "--dial", "3597.9", "--json"],
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
    schema = json.loads(SCHEMA.read_text())
    Draft202012Validator.check_schema(schema)
    kinds = {one["$ref"].rsplit("/", 1)[1] for one in schema["oneOf"]}
    # By its type, since "is valid under none of 22 schemas" helps nobody.
    validators = {kind: Draft202012Validator({**schema, "oneOf": [{"$ref": f"#/$defs/{kind}"}]}) for kind in kinds}
    count, wrong, had, same = 0, {}, set(), {}
    for command, line in lines(binary, folder):
        kind = line.get("type")
        count, had = count + 1, had | {kind}
        found = list(validators[kind].iter_errors(line)) if kind in kinds else [f"no type {kind!r} in the schema"]
        others = [other["code"] for other in line.get("alternatives", [])]
        if len({line.get("code"), *others}) != 1 + len(others):
            same[kind] = f"{command}: {line['code']} or {others}"
        for error in found[:1]:
            inner = min(error.context, key=lambda e: len(e.path)) if getattr(error, "context", None) else error
            wrong.setdefault((command, kind), getattr(inner, "message", inner))
    said = "".join(f"\n      {command}: {kind}: {str(why)[:300]}" for (command, kind), why in wrong.items())
    report.check("reference: lines are valid by the schema", count > 100 and not wrong, f"{count} lines{said}")
    report.check("reference: alternatives are other codes", {"early", "character"} <= had and not same, "; ".join(same.values()))
    report.equal("reference: kinds of line that were not had", sorted(kinds - had - NOT_HAD), [])
    spoilt = dict(line, version=0)
    report.check("reference: the schema tells a spoilt line", not validators[kind].is_valid(spoilt))


def check_page(report, binary, folder):
    done = run(binary, folder, "manual", "made")
    made = folder / "made" / "reference.md"
    page = ROOT / "docs" / "reference.md"
    same = done.returncode == 0 and made.read_text() == page.read_text()
    report.check("reference: docs/reference.md is what the program makes (make reference)", same, done.stderr[-200:])
    return page.read_text()


def sections(page):
    """Options by command, from the reference page."""
    found = {}
    for name, body in re.findall(r"^### `(markhold[^`]*)`\n(.*?)(?=^##)", page, re.M | re.S):
        found[name] = set(re.findall(r"^\| `(--[a-z0-9-]+)", body, re.M))
    return found


def command_lines():
    """(file, command line) of every line in a code block that begins with the program's name."""
    for file in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        if file.name == "reference.md":
            continue
        text = re.sub(r" \\\n +", " ", file.read_text())
        for line in re.findall(r"^    (?:[^\n|]*\| )?(markhold(?: [^\n#]*)?)", text, re.M):
            yield file, line.strip()
        for line in re.findall(r"`(?:[^`|]*\\\| )?(markhold(?: [^`]*)?)`", text):
            yield file, line.strip()


def check_commands(report, page):
    known, wrong, count = sections(page), [], 0
    for file, line in command_lines():
        words = re.sub(r"[\"'].*?[\"']", "TEXT", line).split()
        name = "markhold"
        while words[1:] and f"{name} {words[1]}" in known:
            name = f"{name} {words.pop(1)}"
        given = {word.split("=")[0] for word in words if word.startswith("--") and len(word) > 2}
        # Options of a command hold for those below it where they stand before them.
        above = {option for other in known if name.startswith(other) for option in known[other]}
        unknown = given - above - {option for other in known if other.startswith(name) for option in known[other]} - {"--help", "--version"}
        count += 1
        wrong += [f"{file.name}: {line}: {', '.join(sorted(unknown))}"] if unknown else []
    report.check("reference: command lines name what there is", count > 60 and not wrong, f"{count} lines" + "".join(f"\n      {w}" for w in wrong))


def check_first_evening(report, binary, folder):
    """The commands of the chapter that need neither input nor browser, in its order."""
    text = (ROOT / "docs" / "first-evening.md").read_text()
    runnable = [line.strip() for line in re.findall(r"^    (markhold .*)$", text, re.M) if re.match(r" *markhold (air|copy practice)", line)]
    failed = [line for line in runnable if run(binary, folder, *shlex.split(line)[1:]).returncode]
    report.check("reference: the first evening's commands run", len(runnable) >= 3 and not failed, f"{len(runnable)} commands {failed or ''}")


def checks(report, binary):
    """All of the above."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        check_lines(report, binary, folder)
        page = check_page(report, binary, folder)
        check_commands(report, page)
        check_first_evening(report, binary, folder)
