"""Every command line of README and docs is run, in a folder where what it needs lies, on a shelf of its own for each.

What listens goes on for some seconds and is interrupted; what needs a port that no computer here has must say so; what would send is
refused without a person. Names of commands alone (`markhold shelf again`) are asked for their help. Options are held to the reference page.
"""

import os
import pathlib
import re
import shutil
import signal
import subprocess
import tempfile
import time

import check_sound_output
from manual_lines import COMMANDS, ROOT, command_lines, lay_out, meant, run

# So long somebody listens, s.
LISTENS_S = 4
# Commands that end when they are interrupted.
WATCHES = (["skeds", "watch"],)
# Of skeds that nobody has listened to yet nothing is there, which is said with 1.
NOTHING_YET = (["skeds", "known"], ["skeds", "past"], ["shelf", "join", "--sked"])


def sections(page):
    """Options by command, from the reference page."""
    found = {}
    for name, body in re.findall(r"^### `(markhold[^`]*)`\n(.*?)(?=^##)", page, re.M | re.S):
        found[name] = set(re.findall(r"^\| `(--[a-z0-9-]+)", body, re.M))
    return found


def check_options(report, known, lines):
    wrong = []
    for file, _, words in lines:
        name = command_of(known, words)
        given = {word.split("=")[0] for word in words if re.match(r"--\w", word)}
        # Options of a command hold for those below it where they stand before them.
        above = {option for other in known if name.startswith(other) for option in known[other]}
        below = {option for other in known if other.startswith(name) for option in known[other]}
        unknown = given - above - below - {"--help", "--version"}
        wrong += [f"{file}: {' '.join(words)}: {', '.join(sorted(unknown))}"] if unknown else []
    report.check("manual: command lines name what there is", len(lines) > 100 and not wrong, f"{len(lines)} lines" + "".join(f"\n      {w}" for w in wrong))


def command_of(known, words):
    name = words[0]
    for word in words[1:]:
        if f"{name} {word}" not in known:
            break
        name += f" {word}"
    return name


def check_all_named(report, known):
    """The reference page is part of the manual, and has every option and key of the program (a test of the program's own holds it to
    its readers); here: that the chapters besides lead to every command."""
    text = "".join(file.read_text() for file in (ROOT / "docs").glob("*.md") if file.name != "reference.md") + (ROOT / "README.md").read_text()
    lacking = [name for name in known if not re.search(rf"\b{name.removeprefix('markhold ')}\b", text)]
    report.check("manual: every command has words beside the reference", not lacking, ", ".join(lacking) or f"{len(known)} commands")


def listens(words):
    commands = [word for word in words[1:] if not word.startswith("-")]
    alone = not set(words) & set(COMMANDS) and "--forget-keys" not in words
    return alone or commands[:2] in WATCHES or (commands[:1] == ["copy"] and "--input" in words) or (commands[:2] == ["bench", "measure"] and "--input" in words)


def interrupted(binary, folder, environment, words):
    """Runs what listens for some seconds; what is wrong with it, or None."""
    more = ["--port", "0"] if not set(words) & set(COMMANDS) else []
    words = [word for k, word in enumerate(words) if "--port" not in (word, words[k - 1])]
    # Behind an ampersand a shell starts these checks with the signal ignored, and the program keeps to that.
    hears = lambda: signal.signal(signal.SIGINT, signal.SIG_DFL)
    program = subprocess.Popen([binary, *words[1:], *more], cwd=folder, env=environment, preexec_fn=hears,
                               stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    time.sleep(LISTENS_S)
    early = program.poll()
    program.send_signal(signal.SIGINT)
    _, said = program.communicate(timeout=60)
    good = early is None and program.returncode in (0, 1, 130, -signal.SIGINT)
    return None if good else f"exit {early} {program.returncode}: {said[-200:]}"


def forgets(binary, folder, environment):
    """Keys are forgotten by a desk that runs."""
    desk = subprocess.Popen([binary, "--practice", "--port", "0"], cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        port = re.search(r":(\d+)/", desk.stdout.readline())[1]
        done = run(binary, folder, environment, "--forget-keys", "--port", port)
        return None if done.returncode == 0 else done.stderr[-200:]
    finally:
        desk.terminate()
        desk.communicate(timeout=60)


def refused(done, words):
    """What cannot be done here, and says so in words: no such port, no person to arm it."""
    port = next((word for word in words if "/dev/" in word), None)
    no_port = port and port[port.index("/dev/"):] in done.stderr
    nobody = "send" in words and "arming is for a person at a terminal" in done.stderr
    return done.returncode == 2 and bool(no_port or nobody)


def tried(binary, folder, environment, block, words):
    """Runs one line; what is wrong with it, or None."""
    if "--forget-keys" in words:
        return forgets(binary, folder, environment)
    if listens(words):
        return interrupted(binary, folder, environment, words)
    if not block and len(words) > 1 and all(word in COMMANDS or re.match(r"[a-z]+$", word) for word in words[1:]):
        asked = run(binary, folder, environment, *words[1:], "--help")
        if asked.returncode == 0:  # the name of a command, told of in a sentence
            return None
    sound = (folder / "receiver.wav").read_bytes() if "--raw" in words else None
    if sound:
        done = subprocess.run([binary, *words[1:]], cwd=folder, env=environment, input=sound, capture_output=True, timeout=240)
        return None if done.returncode in (0, 1) else done.stderr.decode()[-200:]
    done = run(binary, folder, environment, *words[1:], told="r\nw\n" * 60 if "range" in words else "y\n")
    good = {0, 2} if words[1:2] == ["check"] else {0}
    if done.returncode in good or refused(done, words):
        return None
    if done.returncode == 1 and any(words[1:4][: len(few)] == few for few in NOTHING_YET):
        return None
    # Part of a command line, told of in a sentence: its options are known, something it needs is left out.
    if not block and done.returncode == 2 and "try '--help'" in done.stderr and "unexpected" not in done.stderr:
        return None
    return f"exit {done.returncode}: {(done.stderr or done.stdout)[-200:]}"


def check_lines(report, binary, lines, folder, environment):
    said = lay_out(binary, folder, environment)
    shelf = pathlib.Path(environment["XDG_DATA_HOME"]) / "markhold" / "shelf"
    whole = folder / "as-it-was"
    report.check("manual: what it needs is laid out", shelf.is_dir() and (folder / "evening.wav").exists(), said[-200:])
    shutil.copytree(shelf, whole)
    wrong, count = [], 0
    once = {}
    for file, block, words in lines:
        once.setdefault(" ".join(meant(words)), (file, block, meant(words)))
    for line, (file, block, words) in once.items():
        begun, count = time.monotonic(), count + 1
        why = tried(binary, folder, environment, block, words)
        if os.environ.get("MARKHOLD_TOLD"):
            print(f"      {time.monotonic() - begun:4.1f} s {file}: {line}", flush=True)
        wrong += [f"{file}: {line}: {why}"] if why else []
        if {"shelf", "skeds", "contacts"} & set(words):
            shutil.rmtree(shelf)
            shutil.copytree(whole, shelf)
    report.check("manual: every command line runs", count > 80 and not wrong, f"{count} different lines" + "".join(f"\n      {w}" for w in wrong))


def checks(report, binary):
    """All of the above."""
    known, lines = sections((ROOT / "docs" / "reference.md").read_text()), list(command_lines())
    check_options(report, known, lines)
    check_all_named(report, known)
    if not (shutil.which("pulseaudio") and shutil.which("pactl")):
        return report.skip("manual: every command line runs", "pulseaudio and pulseaudio-utils are not installed")
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        with check_sound_output.served(name) as environment:
            environment |= {"XDG_DATA_HOME": f"{name}/data", "XDG_CONFIG_HOME": f"{name}/config"}
            source = ["source_name=line_in", f"master={check_sound_output.SINK}.monitor", "source_properties=device.description='Line\\ In'"]
            subprocess.run(["pactl", "load-module", "module-remap-source", *source], env=environment, capture_output=True, check=True)
            check_lines(report, binary, lines, folder, environment)
