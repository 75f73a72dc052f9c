"""What is built in is known: licences, sources and bans of deny.toml, and a notice file that is true.

Advisories are not checked here: their data base is not within reach of the test run.
`python3 checks/check_supply.py` runs it alone.
"""

import shutil
import subprocess
import tomllib

import supply
from supply import ROOT, built_in, chosen, metadata, notices, policy

LOCKS = ["Cargo.lock", "fuzz/Cargo.lock"]


def check_expressions(report):
    """Known answers of the reading of licences (SPDX specification, annex D)."""
    allowed = ["MIT", "Apache-2.0", "Unicode-3.0", "BSD-3-Clause"]
    for expression, expected in [
        ("MIT OR Apache-2.0", {"MIT"}),
        ("Apache-2.0/MIT", {"MIT"}),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", {"MIT", "Unicode-3.0"}),
        ("MIT AND GPL-3.0-only", None),
        ("MIT OR GPL-3.0-only", {"MIT"}),
        ("GPL-2.0-only OR (MIT AND BSD-3-Clause)", {"MIT", "BSD-3-Clause"}),
        ("Apache-2.0 WITH LLVM-exception", None),
        ("MIT Apache-2.0", None),
        ("(MIT", None),
        ("", None),
        (None, None),
    ]:
        report.equal(f"supply: {expression!r} is taken under", chosen(expression, allowed), expected)


def check_licences(report, known, allowed):
    everything = [package for package in known["packages"] if package["source"]]
    bad = [f"{p['name']} {p['version']}: {p['license']}" for p in everything if not chosen(p["license"], allowed)]
    report.equal("supply: crates without an allowed licence", bad, [])
    used = set().union(*(chosen(p["license"], allowed) or set() for p in everything))
    report.equal("supply: licences allowed that nothing needs", sorted(set(allowed) - used), [])


def check_sources(report):
    for name in LOCKS:
        path = ROOT / name
        packages = tomllib.loads(path.read_text())["package"]
        outside = [p for p in packages if "source" in p]
        strange = [p["name"] for p in outside if not p["source"].startswith("registry+") or len(p.get("checksum", "")) != 64]
        report.equal(f"supply: {name}: crates from elsewhere than the registry, or without a checksum", strange, [])
        places = {p["source"] for p in outside}
        report.check(f"supply: {name}: one registry", len(places) == 1, f"{len(outside)} crates")


def check_bans(report, known, banned):
    names = {package["name"] for package in known["packages"]}
    for name in LOCKS:
        names |= {p["name"] for p in tomllib.loads((ROOT / name).read_text())["package"]}
    report.equal("supply: crates that are banned", sorted(names & banned), [])
    wild = [
        f"{package['name']}: {used['name']}"
        for package in known["packages"]
        if not package["source"]
        for used in package["dependencies"]
        if used["req"] == "*" and not used.get("path")
    ]
    report.equal("supply: versions left open", wild, [])


def check_by_the_usual_tool(report):
    """The same asked of cargo-deny, where it is installed; without a network."""
    if not shutil.which("cargo-deny"):
        report.skip("supply: cargo deny", "it is not installed here")
        return
    words = ["cargo-deny", "--offline", "check", "licenses", "bans", "sources"]
    asked = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    told = (asked.stdout.strip() or asked.stderr.strip()).splitlines()
    report.check("supply: cargo deny says so too", asked.returncode == 0, told[-1] if told else "")


def checks(report):
    """All checks of this file."""
    check_expressions(report)
    known, rules = metadata(), policy()
    check_licences(report, known, rules["licenses"]["allow"])
    check_sources(report)
    check_bans(report, known, {entry["crate"] for entry in rules["bans"]["deny"]})
    check_by_the_usual_tool(report)
    file = ROOT / "NOTICES.txt"
    kept = file.read_text() if file.exists() else ""
    fresh = notices()
    report.check("supply: NOTICES.txt is what \"make notices\" makes", kept == fresh, f"{len(built_in(known))} crates, {len(fresh)} bytes")
    for name, _, path in supply.PARTS:
        report.check(f"supply: notice of {name}", (ROOT / path).read_text().strip().splitlines()[0].rstrip() in kept)
    report.skip("supply: advisories", "their data base is not within reach; cargo deny check advisories asks it")


if __name__ == "__main__":
    import sys

    from report import Report

    alone = Report()
    checks(alone)
    sys.exit(0 if alone.close() else 1)
