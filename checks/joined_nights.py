"""Nights joined by the program itself: `python3 checks/joined_nights.py PROGRAM`.

Four nights of one invented text are made with `air`, copied onto a shelf without language and joined two,
three and four at a time. For each kind of night it prints the errors of what each copy prints and of the
joint copy (edit distance over the length of the text), the variants shown, of which none is true, and the
printed characters that are doubtful. One draw each.
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
NIGHTS = [(None, 4), (None, 5), ("1ms,0.5Hz", 8), ("1ms,0.5Hz", 10)]


def text(words=110, width=64):
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


def nights(program, folder, paths, es_n0_db):
    """Errors of each copy alone and of joint copies."""
    def run(*words):
        return subprocess.run([program, *words], capture_output=True, text=True).stdout

    sent, shelf = text(), ["shelf", "--utc", "--shelf", str(folder / "shelf")]
    alone = []
    for night in range(1, 5):
        sound = str(folder / f"{night}.wav")
        way = ["--paths", paths] if paths else []
        begin = f"2026-03-2{night}T19:30:00Z"
        run("air", sent, "--es-n0", str(es_n0_db), "--seed", str(40 + night), "--lead", "3", "--begin", begin, *way, "--out", sound)
        run(*shelf, "add", sound, "--language", "off", "--strongest")
        lines = run(*shelf, "show", str(night), "--doubt", "plain").splitlines()
        # Each line begins with its time.
        alone.append(wrong(" ".join(line[10:] for line in lines if not line.startswith("==")), sent))
    joint = []
    for count in (2, 3, 4):
        told = run(*shelf, "join", *map(str, range(1, count + 1)), "--json").splitlines()
        objects = [json.loads(line) for line in told]
        there = [o for o in objects if o["type"] == "joint-character" and o["present"] >= 0.5]
        variants = sum(o["type"] == "variant" for o in objects)
        doubtful = sum(o["doubtful"] for o in there if (o["glyph"] or "") > " ")
        joint.append((wrong("".join(o["glyph"] or "" for o in there), sent), variants, doubtful))
    return alone, joint


def main():
    print("| path | Es/N0 | alone | joined 2 / 3 / 4 | variants | doubtful |\n| --- | --- | --- | --- | --- | --- |")
    for paths, es_n0_db in NIGHTS:
        with tempfile.TemporaryDirectory() as folder:
            alone, joint = nights(sys.argv[1], pathlib.Path(folder), paths, es_n0_db)
        shares = " / ".join(f"{share:.3f}" for share in alone)
        columns = [" / ".join(f"{j[k]:.3f}" if k == 0 else str(j[k]) for j in joint) for k in range(3)]
        print(f"| {paths or 'steady'} | {es_n0_db} | {shares} | {' | '.join(columns)} |", flush=True)


if __name__ == "__main__":
    main()
