"""Recordings of this folder's generator, copied by `markhold copy`.

Good signals must be copied without an error, weak ones within the targets of
`cases.py`, and sounds that are no teleprinter must leave the paper white.
"""

import subprocess
from dataclasses import replace

from cases import CASES, RATES, Case
from score import rate, score

GOOD = Case("good", esn0_db=25, characters=(110, 140), target=0.0)
WEAK = ("steady-12", "steady-10", "steady-8", "sideband-10", "pace-10", "paths1-16", "paths2-16")


def good_cases():
    """Every usual rate and shift in both senses, sample rates and formats, senders,
    stop lengths, distortion and pace."""
    out = []
    for baud, shift in RATES:
        exact = 1 / 0.022 if baud == 45.45 else float(baud)
        for high in (False, True):
            out.append(replace(GOOD, name=f"good-{baud:g}-{shift}-{'high' if high else 'low'}", baud=exact, shift=float(shift), mark_high=high))
    out += [replace(GOOD, name=f"good-{sample}-{r}", rate=r, sample=sample) for r in (8000, 11025, 44100, 48000) for sample in ("int16", "float32")]
    out += [replace(GOOD, name=f"good-stop-{stop:g}", stop=stop) for stop in (1.0, 1.42, 2.0)]
    out += [replace(GOOD, name=f"good-{sender}-phase", sender=sender) for sender in ("two", "random")]
    out += [
        replace(GOOD, name="good-keyboard", pace="keyboard"),
        replace(GOOD, name="good-jitter", jitter_ms=1.5),
        replace(GOOD, name="good-bias", bias=0.2),
        replace(GOOD, name="good-bias-space", bias=-0.2),
        replace(GOOD, name="good-clean", esn0_db=None),
    ]
    return out


def verdict(report, case, results):
    """One line for one case."""
    notes = [r["note"] for r in results if r["note"]]
    if notes:
        report.check(f"copy {case.name}", False, notes[0].strip())
        return
    counts = [sum(r[k] for r in results) for k in ("characters", "wrong", "missing", "extra")]
    text = "{} sent, {} wrong, {} missing, {} extra".format(*counts)
    cer = rate(results)
    if cer is None:
        report.check(f"copy {case.name}: white paper", counts[3] == 0, f"{counts[3]} characters printed")
    else:
        report.check(f"copy {case.name}", cer <= case.target, f"{text}; CER {cer:.4f}, target {case.target:g}")


def run(report, cases, seeds, binary, **more):
    """Scores the cases, several seeds each, and reports."""
    results = score(cases, seeds, binary, **more)
    for case in cases:
        verdict(report, case, [next(results) for _ in seeds])


def checks(report, binary):
    """All of the above; one failure if the program has no `copy` command."""
    help_text = subprocess.run([binary, "copy", "--help"], capture_output=True, text=True)
    if help_text.returncode or "copy" not in help_text.stdout:
        report.check("markhold copy", False, "the program has no `copy` command")
        return
    run(report, good_cases(), [1], binary)
    run(report, [CASES[n] for n in WEAK], [1, 2], binary, codes=True)
    run(report, [CASES["noise-hour"], CASES["keyed-hour"]], [1], binary, seconds=300)
