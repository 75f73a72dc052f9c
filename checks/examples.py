"""Example programs of the crates, of the same build as the program that is judged."""

import json
import pathlib
import subprocess

ROOT = pathlib.Path(__file__).resolve().parent.parent


def beside(binary, name):
    """Where the tests have made it, with the whole workspace: beside the program that they made."""
    folder = pathlib.Path(binary).parent
    return folder / "examples" / name if folder.name == "debug" else None


def example(binary, crate, name):
    """Its path. One that the tests have made is not asked for: cargo answers nobody while the lints are at work."""
    made = beside(binary, name)
    if made and made.exists():
        return str(made)
    command = ["cargo", "build", "--quiet", "-p", crate, "--release", "--example", name, "--message-format", "json"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"example {name}, exit {done.returncode}: {done.stderr[-300:]}")
    said = (json.loads(line) for line in done.stdout.splitlines() if line.startswith("{"))
    return next(m["executable"] for m in said if m.get("executable") and m["target"]["name"] == name)
