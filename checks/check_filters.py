"""Filters of the signal crate against scipy.signal. Not written yet.

The example `filters` of markhold-signal is to print one JSON object a line, such as
{"name": ..., "rate_hz": ..., "taps": [...], "design": {...}}; what is compared with
which scipy design is to be agreed when it exists.
"""

from pathlib import Path

EXAMPLE = Path(__file__).resolve().parent.parent / "crates/markhold-signal/examples/filters.rs"


def compare(report):
    """To be filled in. Fails until then, so that an example without a comparison is seen."""
    report.check("filters against scipy", False, f"{EXAMPLE.name} exists but the comparison is not written")


def checks(report):
    """Skipped while the example is missing."""
    if EXAMPLE.exists():
        compare(report)
    else:
        report.skip("filters against scipy", "markhold-signal has no example `filters` yet")
