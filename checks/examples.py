"""Example programs of the crates, brought up to date in the profile of the program that is judged."""

import json
import pathlib
import subprocess

ROOT = pathlib.Path(__file__).resolve().parent.parent


def command(binary, crate, name):
    """How cargo makes it. The tests have made the same program, with the whole workspace: so it is
    asked for with the whole workspace there, and nothing is left to do."""
    tested = "debug" in pathlib.Path(binary).parts
    what = ["--workspace", "--profile", "test"] if tested else ["-p", crate, "--release"]
    return ["cargo", "build", "--quiet", *what, "--example", name, "--message-format", "json"]


def example(binary, crate, name):
    """Its path."""
    done = subprocess.run(command(binary, crate, name), cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"example {name}, exit {done.returncode}: {done.stderr[-300:]}")
    made = (json.loads(line) for line in done.stdout.splitlines() if line.startswith("{"))
    return next(m["executable"] for m in made if m.get("executable") and m["target"]["name"] == name)
