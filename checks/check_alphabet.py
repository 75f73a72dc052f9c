"""The alphabet and the start-stop arithmetic against outside tables.

Sources: PyPI library `baudot` 0.1.1.post2 (both figures rows); worked examples of
public libraries (W5, W7); a US Army teletypewriter training text (W1); `wpm =
10 baud / units` with a word of six operations.
"""

import json
import random
import subprocess

from baudot.codecs import ITA2_STANDARD, ITA2_US
from baudot.codecs.core import Shift

import alphabet
from examples import example


def ask(table, questions):
    """(the 32 rows, the answers) of the program's table."""
    done = subprocess.run([table], input="\n".join(questions) + "\n", capture_output=True, text=True, check=True)
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    return lines[:32], lines[32:]


def place(value):
    """A place of `baudot`'s table in the words of the program's table."""
    if isinstance(value, Shift):
        return value.name.lower()
    return "blank" if value == "\x00" else ord(value)


def shift_of(codec, name):
    """The library's shift of that name."""
    return next(s for s in codec.shifts if s.name == name)


def rows(report, ours):
    """All 32 places of the three rows, and the order of the elements."""
    for key, codec, shift in (("letters", ITA2_STANDARD, "Letters"), ("ita2", ITA2_STANDARD, "Figures"), ("us", ITA2_US, "Figures")):
        table = codec.decoding_table[shift_of(codec, shift)]
        differ = [i for i in range(32) if ours[i][key] != place(table[i])]
        report.check(f"32 places of the {key} row against baudot", not differ, f"differ at {differ}" if differ else "")
    wrong = [r["code"] for r in ours if r["elements"] != "".join(str(r["code"] >> k & 1) for k in range(5))]
    report.check("elements in order, element 1 least significant", not wrong, f"{wrong}" if wrong else "")
    own = [i for i in range(32) for key, mine in (("letters", alphabet.LETTERS), ("ita2", alphabet.FIGURES), ("us", alphabet.FIGURES))
           if mine[i] not in "_" and ours[i][key] != ord(mine[i])]
    report.check("this folder's sender uses the same table", not own, f"{own}" if own else "")


def library_encode(text, codec):
    """Codes by the library, shift sent before the first character that needs one."""
    state, out = None, []
    for c in text:
        code, wanted = codec.encode(c, state)
        if wanted != state:
            out.append(codec.encode(wanted, None)[0])
            state = wanted
        out.append(code)
    return out


def library_decode(codes, codec):
    """Text by the library from letters; blanks leave nothing."""
    state, out = shift_of(codec, "Letters"), []
    for code in codes:
        value = codec.decode(code, state)
        if isinstance(value, Shift):
            state = value
        elif value != "\x00":
            out.append(ord(value))
    return out


def random_traffic(report, table):
    """Random texts and random codes, both ways, both rows."""
    rng = random.Random(5)
    for name, codec in (("ita2", ITA2_STANDARD), ("us", ITA2_US)):
        printable = sorted(c for c in codec.alphabet if c.isprintable())
        texts = ["".join(rng.choice(printable) for _ in range(60)).strip() for _ in range(50)]
        codes = [[rng.randrange(32) for _ in range(80)] for _ in range(50)]
        questions = [f"encode {name} unknown {t}" for t in texts] + [f"decode {name} {' '.join(map(str, c))}" for c in codes]
        answers = ask(table, questions)[1]
        expected = [library_encode(t, codec) for t in texts] + [library_decode(c, codec) for c in codes]
        wrong = [q for q, a, e in zip(questions, answers, expected) if a != e]
        report.check(f"100 random texts and code rows, {name}", len(answers) == 100 and not wrong, wrong[0] if wrong else "")


def worked(report, table):
    """Worked examples W1, W5, W7, W12 and the table of speeds."""
    speeds = [(1 / 0.022, 31 / 22, 0.163, 61.35), (1 / 0.022, 1.42, 0.16324, 61.26), (50, 1.5, 0.150, 66.67), (56.92, 1.42, 0.13036, 76.71), (75, 1.5, 0.1, 100.0), (100, 1.5, 0.075, 133.33)]
    questions = ["encode ita2 letters HELLO 123", "encode ita2 letters A1B", "encode ita2 letters RY"]
    ours, answers = ask(table, questions + [f"times {b} {s}" for b, s, _, _ in speeds])
    report.equal("W5 HELLO 123", answers[0], [20, 1, 18, 18, 24, 4, 27, 23, 19, 1])
    report.equal("W7 A1B", answers[1], [3, 27, 23, 31, 25])
    report.check("W12 R and Y are complements", answers[2][0] ^ answers[2][1] == 31)
    report.near("W1 six operations of 22 ms elements and 31 ms stop, s", 6 * answers[3]["character_s"], 0.978, 1e-9)
    report.near("W1 operations per minute", answers[3]["opm"], 368.1, 0.05)
    for (baud, stop, seconds, wpm), a in zip(speeds, answers[3:]):
        ok = abs(a["character_s"] - seconds) < 5e-6 and abs(a["wpm"] - wpm) < 0.006
        report.check(f"speed {baud:.2f} baud, stop {stop:.2f}", ok, f"{a['character_s'] * 1000:.2f} ms, {a['wpm']:.2f} wpm")
    rows(report, ours)


def checks(report, binary):
    """All of the above."""
    table = example(binary, "markhold-code", "table")
    worked(report, table)
    random_traffic(report, table)
