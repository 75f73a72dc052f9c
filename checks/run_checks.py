"""Runs every check of this folder; called by `checks/run`.

    run_checks.py PROGRAM [map|supply|alphabet|generator|copy|air|filters|page|tones|sound-output|send|bench|shelf|skeds|contacts|desk|tonight ...]
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys

import check_air
import check_alphabet
import check_bench
import check_contacts
import check_copy
import check_desk
import check_filters
import check_generator
import check_map
import check_send
import check_shelf
import check_skeds
import check_page
import check_sound_output
import check_supply
import check_tones
import check_tonight
from report import Report

PARTS = {
    "map": lambda r, binary: check_map.checks(r),
    "supply": lambda r, binary: check_supply.checks(r),
    "alphabet": lambda r, binary: check_alphabet.checks(r),
    "generator": lambda r, binary: check_generator.checks(r),
    "copy": check_copy.checks,
    "air": check_air.checks,
    "page": check_page.checks,
    "filters": lambda r, binary: check_filters.checks(r),
    "bench": check_bench.checks,
    "shelf": check_shelf.checks,
    "skeds": check_skeds.checks,
    "contacts": check_contacts.checks,
    "tones": check_tones.checks,
    "sound-output": check_sound_output.checks,
    "send": check_send.checks,
    "desk": check_desk.checks,
    "tonight": check_tonight.checks,
}


def main():
    binary, chosen = sys.argv[1], sys.argv[2:] or list(PARTS)
    unknown = [c for c in chosen if c not in PARTS]
    if unknown:
        sys.exit(f"no part {unknown[0]!r}; parts: {', '.join(PARTS)}")
    report = Report()
    for part in chosen:
        print(f"== {part}", flush=True)
        try:
            PARTS[part](report, binary)
        except Exception as error:  # a check that breaks is a failed check, the others still run
            report.check(part, False, f"stopped by {type(error).__name__}: {error}")
    sys.exit(0 if report.close() else 1)


if __name__ == "__main__":
    main()
