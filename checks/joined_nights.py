"""Nights joined by the program itself: `python3 checks/joined_nights.py PROGRAM`.

Four nights of one invented text are made with `air`, copied onto a shelf without language and joined two,
three and four at a time: as they are kept, and heard again where they do not go together. For each kind of
night it prints the errors of what each copy prints and of the joint copies (edit distance over the length of
the text), the variants shown in the latter, of which none is true, and their doubtful printed characters. Means
of two draws.
"""

import json
import pathlib
import random
import subprocess
import sys
import tempfile

WORDS = """THE OF CLUB NET MARSH LOW STATION TONIGHT WILL BE HEARD ON MEMBERS ARE ASKED TO LISTEN FOR BULLETIN
FROM NEW RECEIVER PRINTER RIBBON PAPER MOTOR GOVERNOR LOOP CURRENT AND RELAY WAS REPAIRED BY OUR SECRETARY WHO
THANKS ALL THAT SENT REPORTS OVER LAST WEEK BAND CONDITIONS POOR UNTIL MIDNIGHT BUT BETTER TOWARD MORNING""".split()
NIGHTS = [(None, 8), (None, 6), (None, 4), (None, 2.5)]
NIGHTS += [("1ms,0.5Hz", 14), ("1ms,0.5Hz", 11), ("1ms,0.5Hz", 9), ("1ms,0.5Hz", 6.5)]
DRAWS = 2


def text(words=220, width=64):
    """Invented words in lines, a number among a dozen of them."""
    draw = random.Random(5)
    lines = [""]
    for _ in range(words):
        word = draw.choice(WORDS) if draw.random() > 0.08 else str(draw.randint(10, 2000))
        if len(lines[-1]) + len(word) >= width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines) + "\n"


def distance(a, b):
    """Missing, extra and wrong characters."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a):
        last, row = row, [i + 1]
        for j, y in enumerate(b):
            row.append(min(last[j] + (x != y), last[j + 1] + 1, row[j] + 1))
    return row[-1]


def wrong(copy, sent):
    """Errors over the length, however it is laid out."""
    copy, sent = " ".join(copy.split()), " ".join(sent.split())
    return distance(copy, sent) / len(sent)


def nights(program, folder, paths, es_n0_db, draw):
    """Errors of each copy alone; of joint copies as kept and heard again, with variants and doubtful characters."""
    def run(*words):
        return subprocess.run([program, *words], capture_output=True, text=True).stdout

    sent, shelf = text(), ["shelf", "--utc", "--shelf", str(folder / "shelf")]
    alone = []
    for night in range(1, 5):
        sound = str(folder / f"{night}.wav")
        way = ["--paths", paths] if paths else []
        begin = f"2026-03-2{night}T19:30:00Z"
        seed = str(40 + 20 * draw + night)
        run("air", sent, "--es-n0", str(es_n0_db), "--seed", seed, "--lead", "3", "--begin", begin, *way, "--out", sound)
        run(*shelf, "add", sound, "--language", "off", "--strongest")
        lines = run(*shelf, "show", str(night), "--doubt", "plain").splitlines()
        # Each line begins with its time.
        alone.append(wrong(" ".join(line[10:] for line in lines if not line.startswith("==")), sent))
    return alone, [joint(run, shelf, sent, how) for how in (["--as-kept"], [])]


def joint(run, shelf, sent, how):
    """Two, three and four nights joined: errors, variants, doubtful characters."""
    found = []
    for count in (2, 3, 4):
        told = run(*shelf, "join", *map(str, range(1, count + 1)), "--json", *how).splitlines()
        objects = [json.loads(line) for line in told]
        there = [o for o in objects if o["type"] == "joint-character" and o["present"] >= 0.5]
        variants = sum(o["type"] == "variant" for o in objects)
        doubtful = sum(o["doubtful"] for o in there if (o["glyph"] or "") > " ")
        found.append((wrong("".join(o["glyph"] or "" for o in there), sent), variants, doubtful))
    return found


def mean(rows):
    return [sum(column) / len(rows) for column in zip(*rows)]


def main():
    print("| path | Es/N0 | alone | joined 2 / 3 / 4 as kept | heard again | variants | doubtful |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for paths, es_n0_db in NIGHTS:
        draws = []
        for draw in range(DRAWS):
            with tempfile.TemporaryDirectory() as folder:
                draws.append(nights(sys.argv[1], pathlib.Path(folder), paths, es_n0_db, draw))
        alone = sum(sum(d[0]) for d in draws) / (4 * DRAWS)
        kept, again = ([mean([d[1][how][k] for d in draws]) for k in range(3)] for how in (0, 1))
        shares = [" / ".join(f"{j[0]:.4f}" for j in side) for side in (kept, again)]
        counts = [" / ".join(f"{j[k]:.1f}" for j in again) for k in (1, 2)]
        print(f"| {paths or 'steady'} | {es_n0_db} | {alone:.3f} | {' | '.join(shares + counts)} |", flush=True)


if __name__ == "__main__":
    main()
