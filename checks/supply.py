"""What is built in: the crates of a lock file, their licences, and the notice file.

    python3 checks/supply.py [TARGET] > NOTICES.txt

Needs nothing but Python and cargo. TARGET is the system that is built for, as cargo names it; the
file in the repository is for 64-bit Linux.
"""

import hashlib
import json
import pathlib
import re
import subprocess
import sys
import textwrap
import tomllib

ROOT = pathlib.Path(__file__).resolve().parent.parent
TARGET = "x86_64-unknown-linux-gnu"
# Where there is a choice, the first of these.
PREFERRED = ["MIT", "Apache-2.0", "BSD-3-Clause", "Zlib", "Unicode-3.0", "MPL-2.0"]
# What a licence file is called, less its ending.
FILES = re.compile(r"^(licen[cs]e|copying|unlicense|notice|copyright)", re.I)
# Which of several files is which licence's.
MARKS = {"mit": "MIT", "apache": "Apache-2.0", "zlib": "Zlib", "mpl": "MPL-2.0", "bsd": "BSD", "unlicense": "Unlicense",
         "boost": "BSL-1.0", "gpl": "GPL", "0bsd": "0BSD", "unicode": "Unicode-3.0"}
# Parts that are no crates: name, licence, file with the text.
PARTS = [
    ("Courier Prime, a font of the desk's page", "OFL-1.1", "crates/markhold-desk/assets/fonts/OFL-courier-prime.txt"),
    ("Jost, a font of the desk's page", "OFL-1.1", "crates/markhold-desk/assets/fonts/OFL-jost.txt"),
    ("Counts of text in the models of language", "several", "crates/markhold-language/model/NOTICE"),
]
MIT = """Permission is hereby granted, free of charge, to any person obtaining a copy of this software and associated
documentation files (the "Software"), to deal in the Software without restriction, including without limitation the rights
to use, copy, modify, merge, publish, distribute, sublicense, and/or sell copies of the Software, and to permit persons to
whom the Software is furnished to do so, subject to the following conditions: The above copyright notice and this
permission notice shall be included in all copies or substantial portions of the Software. THE SOFTWARE IS PROVIDED "AS
IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR IMPLIED, INCLUDING BUT NOT LIMITED TO THE WARRANTIES OF MERCHANTABILITY,
FITNESS FOR A PARTICULAR PURPOSE AND NONINFRINGEMENT. IN NO EVENT SHALL THE AUTHORS OR COPYRIGHT HOLDERS BE LIABLE FOR ANY
CLAIM, DAMAGES OR OTHER LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR OTHERWISE, ARISING FROM, OUT OF OR IN
CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER DEALINGS IN THE SOFTWARE."""


def metadata(folder=ROOT, target=TARGET):
    """What cargo knows of a workspace, for one system."""
    command = ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", target]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"cargo metadata: {done.stderr.strip()}")
    return json.loads(done.stdout)


def built_in(known, roots=("markhold",)):
    """The packages of others that end up in these programs: what they use, and what that uses.
    What only builds or tests is left out."""
    packages = {package["id"]: package for package in known["packages"]}
    nodes = {node["id"]: node for node in known["resolve"]["nodes"]}
    waiting = [id for id, package in packages.items() if package["name"] in roots]
    seen = set(waiting)
    while waiting:
        for used in nodes[waiting.pop()]["deps"]:
            linked = any(kind["kind"] is None for kind in used["dep_kinds"])
            if linked and used["pkg"] not in seen:
                seen.add(used["pkg"])
                waiting.append(used["pkg"])
    found = [packages[id] for id in seen if packages[id]["source"]]
    return sorted(found, key=lambda package: (package["name"], package["version"]))


def chosen(expression, allowed):
    """The licences under which something is taken, by its expression (SPDX, and the slash of
    old): a set, or None if none is allowed."""
    words = re.findall(r"\(|\)|[^\s()]+", (expression or "").replace("/", " OR "))

    def alternatives():
        found = [all_of()]
        while words and words[0] == "OR":
            words.pop(0)
            found.append(all_of())
        good = [f for f in found if f is not None]
        order = lambda names: max(PREFERRED.index(n) if n in PREFERRED else len(PREFERRED) for n in names)
        return min(good, key=order) if good else None

    def all_of():
        found = [one()]
        while words and words[0] == "AND":
            words.pop(0)
            found.append(one())
        return None if None in found else set().union(*found)

    def one():
        word = words.pop(0) if words else ""
        if word == "(":
            inner = alternatives()
            if not words or words.pop(0) != ")":
                return None
            return inner
        if words and words[0] == "WITH":
            word = f"{word} {words.pop(0)} {words.pop(0) if words else ''}"
        return {word} if word in allowed else None

    found = alternatives()
    return None if words else found


def policy():
    """What deny.toml says."""
    return tomllib.loads((ROOT / "deny.toml").read_text())


def texts(package, licences):
    """The licence texts that come with a package, for the licences that were chosen."""
    folder = pathlib.Path(package["manifest_path"]).parent
    named = [folder / package["license_file"]] if package.get("license_file") else []
    found = sorted(p for p in folder.iterdir() if p.is_file() and FILES.match(p.name)) + [p for p in named if p.is_file()]

    def wanted(path):
        marks = [licence for mark, licence in MARKS.items() if mark in path.name.lower()]
        return not marks or any(licence.startswith(mark) for mark in marks for licence in licences)

    return [path.read_text(errors="replace") for path in dict.fromkeys(found) if wanted(path)]


def notices(target=TARGET):
    """The notice file."""
    known = metadata(target=target)
    allowed = policy()["licenses"]["allow"]
    out = [f"""Markhold is under the MIT licence or the Apache License, Version 2.0, at your choice: LICENSE-MIT and LICENSE-APACHE.
These parts of others are built into the program. Made by "make notices" for {target}.

Of what is under the Mozilla Public License 2.0 nothing was changed; the source of exactly these versions is what
"cargo vendor" brings, with this project's Cargo.lock.

The Rust standard library is under the MIT licence or the Apache License, Version 2.0, Copyright the Rust Project's
contributors. SQLite and the time zone data base are in the public domain. The C library and the ALSA library (LGPL-2.1 or
later) are not part of the program: those of the system are used.
"""]
    holders = {}
    for package in built_in(known):
        licences = chosen(package["license"], allowed) or {package["license"] or "UNKNOWN"}
        out.append(f"  {package['name']} {package['version']}: {' and '.join(sorted(licences))}")
        own = texts(package, licences)
        if not own:
            authors = ", ".join(re.sub(r" *<[^>]*>", "", a) for a in package["authors"]) or f"the authors of {package['name']}"
            own = [f"Copyright (c) {authors}\n\n{MIT}" if "MIT" in licences else ""]
        for text in own:
            key = hashlib.sha256(" ".join(text.split()).encode()).hexdigest()
            holders.setdefault(key, (text, []))[1].append(f"{package['name']} {package['version']}")
    for name, licence, _ in PARTS:
        out.append(f"  {name}: {licence}")
    for name, _, path in PARTS:
        text = (ROOT / path).read_text()
        holders[path] = (text, [name])
    for text, names in holders.values():
        clean = "\n".join(line.rstrip() for line in text.strip().splitlines())
        out.append("\n" + "-" * 78 + "\n" + textwrap.fill(", ".join(names), 78) + "\n\n" + clean)
    return "\n".join(out) + "\n"


if __name__ == "__main__":
    sys.stdout.write(notices(*sys.argv[1:2]))
