"""The map is true: ARCHITECTURE.md is held to the tree, and modules use each other one way.

The table of the rooms names every crate, every folder inside its `src`, and the crates it uses;
every path between backticks exists. Between the modules of one folder there is no cycle.
`python3 checks/check_map.py` runs it alone.
"""

import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
CRATES = sorted(path.parent for path in (ROOT / "crates").glob("*/Cargo.toml"))
# Ends of names that are files.
FILES = r"\.(rs|py|js|toml|md|sql|wav|txt)$"


def uses(crate):
    """The crates of this project that a crate is built with, by its manifest."""
    section = re.search(r"^\[dependencies\]\n(.*?)(?=^\[|\Z)", (crate / "Cargo.toml").read_text(), re.M | re.S)
    return sorted(re.findall(r"^markhold-([a-z]+)", section[1] if section else "", re.M))


def rooms(text):
    """The rows of the table of rooms: crate, backticked words of what it holds, crates it uses."""
    rows = re.findall(r"^\| `(markhold[a-z-]*)` \| (.*) \| (.*) \|$", text, re.M)
    return {name: (set(re.findall(r"`([^`]+)`", holds)), used) for name, holds, used in rows}


def check_rooms(report, text):
    table = rooms(text)
    names = [crate.name for crate in CRATES]
    report.equal("map: every crate has a room", sorted(table), names)
    for crate in CRATES:
        named, used = table.get(crate.name, (set(), ""))
        expected = ", ".join(uses(crate)) or "nothing"
        report.equal(f"map: {crate.name} uses", ", ".join(sorted(used.split(", "))), expected)
        source = crate / "src"
        # Tests in several files need no name of their own: the file beside them has it.
        inside = (path for path in source.rglob("*") if path.is_dir() and path.name != "tests")
        folders = {str(path.relative_to(source)) for path in inside}
        report.equal(f"map: folders of {crate.name} without a name", sorted(folders - named), [])


def exists(path):
    """Whether a path stands in the tree: from its top, from the crates, or inside a crate."""
    tops = [ROOT, ROOT / "crates", *(crate / part for crate in CRATES for part in ("src", "."))]
    if any((top / end).exists() for top in tops for end in (path, f"{path}.rs")):
        return True
    return "/" not in path and any((ROOT / "crates").rglob(path))


def check_paths(report, text):
    text = re.sub(r"^(    .*|```.*?```)$", "", text, flags=re.M | re.S)
    words = set(re.findall(r"`([^` ]+)`", text))
    paths = {word.rstrip("/") for word in words if re.search(r"/|" + FILES, word) and "::" not in word}
    report.equal("map: paths that do not exist", sorted(p for p in paths if not exists(p)), [])


class Crate:
    """The modules of a crate, and who uses whom. A module is a tuple of names below `crate`."""

    def __init__(self, crate):
        self.source = crate / "src"
        files = [f for f in self.source.rglob("*.rs") if "bin" not in f.relative_to(self.source).parts]
        self.files = {self.module(f): f for f in files if not re.search(r"test", str(f.relative_to(self.source)))}
        self.given = {m: self.reexports(m) for m in self.files}

    def module(self, file):
        parts = list(file.relative_to(self.source).with_suffix("").parts)
        return tuple(parts[:-1] if parts[-1] in ("mod", "lib", "main") else parts)

    def text(self, module):
        """A file without its tests and comments."""
        text = self.files[module].read_text().split("#[cfg(test)]\nmod tests")[0]
        return re.sub(r"^\s*//.*$", "", text, flags=re.M)

    def paths(self, text):
        """All paths that are named, lists taken apart: `a::{b, c::d}` is `a::b` and `a::c::d`."""
        for start, rest in re.findall(r"\b((?:crate|super)(?:::\w+)*)((?:::\{[^;]*?\}(?=;))?)", text):
            names = re.findall(r"[\w:]+", rest.replace("::{", "", 1)) if rest else []
            yield from (f"{start}::{name}" for name in names) if names else [start]

    def resolved(self, module, path):
        """The module that a path leads into, through what modules hand on from their children."""
        here, words = module, path.split("::")
        for at, word in enumerate(words):
            if word == "crate":
                here = ()
            elif word == "super":
                here = here[:-1]
            elif here + (word,) in self.files:
                here += (word,)
            elif word in self.given.get(here, {}):
                here = self.given[here][word]
            else:
                break
        return here

    def reexports(self, module):
        given = {}
        for child, names in re.findall(r"pub(?:\([a-z]+\))? use (?:self::)?(\w+)::(\{[^}]*\}|\w+);", self.text(module)):
            if module + (child,) in self.files:
                given.update({name: module + (child,) for name in re.findall(r"\w+", names)})
        return given

    def edges(self):
        """Which sibling modules use each other, by the folder they stand in."""
        edges = {}
        for module in self.files:
            for path in self.paths(self.text(module)):
                other = self.resolved(module, path)
                level = next((k for k, (a, b) in enumerate(zip(module, other)) if a != b), None)
                if level is not None:
                    edges.setdefault(module[:level], set()).add((module[level], other[level]))
        return edges

    def cycles(self):
        """Groups of sibling modules that use each other in a circle."""
        for folder, edges in self.edges().items():
            reach = {a: {b for x, b in edges if x == a} for a, _ in edges}
            for _ in reach:
                for a in reach:
                    reach[a] |= {c for b in reach[a] for c in reach.get(b, ())}
            groups = {frozenset(b for b in reach[a] if a in reach.get(b, ())) for a in reach if a in reach[a]}
            folder = "/".join((self.source.parent.name, *folder))
            yield from ((folder, " ".join(sorted(group))) for group in groups)


def check_cycles(report):
    found = sorted(cycle for crate in CRATES for cycle in Crate(crate).cycles())
    report.equal("map: modules that use each other in a circle", found, [])


def checks(report):
    text = (ROOT / "ARCHITECTURE.md").read_text()
    check_rooms(report, text)
    check_paths(report, text)
    check_cycles(report)


if __name__ == "__main__":
    from report import Report

    report = Report()
    checks(report)
    sys.exit(0 if report.close() else 1)
