"""Seeded bulletin texts. Every station, place and person is invented; call signs
begin with Q and a digit, a series that no nation holds.

Only characters common to the international and the US figures row are used.
"""

import textwrap

LINE = 69  # printed characters per line, international telegraph practice

BULLETINS = [
    """BULLETIN OF THE COPPER VALLEY PRINTER CIRCLE. GOOD EVENING TO ALL WHO KEEP A
    MACHINE ON THE BENCH. THE SPRING MEETING WAS HELD IN THE OLD MILL AT LOW FERRY AND
    THE ROOM WAS FULL TO THE DOOR. THREE MEMBERS BROUGHT PAGE PRINTERS AND ONE BROUGHT
    A TAPE READER THAT HAD NOT TURNED FOR FORTY YEARS. AFTER AN HOUR WITH OIL AND A
    SOFT BRUSH IT READ A WHOLE REEL WITHOUT A SINGLE WRONG LETTER. THE SECRETARY ASKS
    THAT ANYONE WITH A SPARE MAIN SHAFT WRITE TO HIM BEFORE THE END OF THE MONTH.""",
    """CONDITIONS REPORT. THE LOWER BANDS HAVE BEEN QUIET AFTER DARK AND THE LONG PATH
    OPENED TWICE THIS WEEK SHORTLY BEFORE SUNRISE. FADING WAS SLOW AND DEEP, WITH ONE
    TONE OFTEN GONE WHILE THE OTHER STAYED STRONG. STATIC FROM THE SOUTH IS EXPECTED TO
    GROW WITH THE WARM WEATHER. OPERATORS ARE REMINDED TO LET THE RECEIVER WARM FOR HALF
    AN HOUR BEFORE THE NET, AND TO LISTEN ON THE FREQUENCY BEFORE SENDING ANYTHING AT ALL.""",
    """NOTES FROM THE WORKSHOP. A READER IN HOLLOW REACH ASKS WHY HIS MACHINE PRINTS ONE
    CHARACTER WRONG IN TWENTY WHEN THE SIGNAL IS GOOD. THE ANSWER IS NEARLY ALWAYS THE
    RANGE FINDER. TURN IT SLOWLY ONE WAY UNTIL ERRORS BEGIN, NOTE THE MARK, TURN IT THE
    OTHER WAY UNTIL THEY BEGIN AGAIN, AND SET IT HALF WAY BETWEEN. IF THE TWO MARKS LIE
    CLOSE TOGETHER THE SELECTOR WANTS CLEANING. NEVER WORK ON THE LOOP WITH THE SUPPLY ON.""",
    """THE SUNDAY NET OPENED WITH ELEVEN STATIONS AND CLOSED WITH NINE. FIRST TO ANSWER
    WAS THE LIGHTHOUSE AT GULL STACK WHERE THE WIND HAD TAKEN THE AERIAL DOWN AGAIN.
    THE SCHOOL AT MARROWBY SENT A PICTURE MADE OF LETTERS, A SHIP UNDER FULL SAIL, AND
    SEVEN OF US COPIED IT WITHOUT A BROKEN LINE. NEXT WEEK THE NET WILL BE LED FROM THE
    NORTHERN END OF THE COUNTY AND THE QUESTION FOR THE EVENING IS HOW EACH OF US FIRST
    HEARD A MACHINE WORKING.""",
    """A SHORT HISTORY, PART THE FOURTH. BEFORE THE RADIO LINK WAS BUILT EVERY MESSAGE FOR
    THE ISLANDS WENT BY THE MORNING BOAT. THE FIRST PRINTER STOOD IN A SHED BEHIND THE
    HARBOUR OFFICE AND COULD BE HEARD ACROSS THE WATER ON STILL NIGHTS. ITS OPERATOR KEPT
    A BOOK IN WHICH HE WROTE THE WEATHER, THE STRENGTH OF THE SIGNAL AND THE NUMBER OF
    SHEETS OF PAPER LEFT. THAT BOOK HAS NOW BEEN FOUND AND THE CIRCLE HOPES TO PRINT IT.""",
    """FOR THE NEWCOMER. TUNE UNTIL BOTH TONES ARE OF EQUAL HEIGHT. IF THE PAPER SHOWS
    NONSENSE AT A STEADY PACE YOU HAVE PROBABLY CHOSEN THE WRONG SIDEBAND, OR THE SENDER
    IS RUNNING AT ANOTHER SPEED. IF THE PACE IS UNEVEN YOU ARE PRINTING NOISE. A LINE THAT
    OVERPRINTS ITSELF AT THE RIGHT EDGE MEANS THAT A CARRIAGE RETURN WAS LOST. PATIENCE IS
    THE BEST TOOL, AND A NOTEBOOK THE SECOND BEST.""",
]

PLACES = "LOW FERRY,GULL STACK,HOLLOW REACH,MARROWBY,COPPER VALLEY,EAST TARN,WICK END,STONE QUAY".split(",")
NAMES = "ADA,BRAM,CORA,DIRK,ELSE,FINN,GRETA,HUGO,IDA,JOAN,KARL,LENA".split(",")


def call(rng):
    """An invented call sign: Q, a digit, two or three letters."""
    n = int(rng.integers(2, 4))
    letters = "".join(chr(65 + int(k)) for k in rng.integers(0, 26, n))
    return f"Q{rng.integers(0, 10)}{letters}"


def _wrap(paragraph):
    return textwrap.fill(" ".join(paragraph.split()), LINE, break_on_hyphens=False)


def prose(rng):
    """One bulletin paragraph, begun at a random sentence."""
    body = " ".join(BULLETINS[int(rng.integers(len(BULLETINS)))].split()).split(". ")
    k = int(rng.integers(len(body)))
    return _wrap(". ".join(s.rstrip(".") for s in body[k:] + body[:k]) + ".")


def figures(rng):
    """A net report: call signs, serials, times, frequencies and readings."""
    lines = [f"NR {rng.integers(1, 999):03d} DE {call(rng)} {rng.integers(0, 24):02d}{rng.integers(0, 60):02d} UTC"]
    for _ in range(int(rng.integers(5, 9))):
        pick = int(rng.integers(4))
        if pick == 0:
            lines.append(f"{call(rng)} DE {call(rng)} RST {rng.integers(3, 6)}{rng.integers(3, 10)}9 NR {rng.integers(1, 2000):04d}")
        elif pick == 1:
            lines.append(f"FREQ {rng.integers(3500, 3600)}.{rng.integers(0, 10)} / {rng.integers(7035, 7050)}.{rng.integers(0, 10)} KHZ AT {rng.integers(0, 24):02d}:{rng.integers(0, 60):02d}")
        elif pick == 2:
            place = PLACES[int(rng.integers(len(PLACES)))]
            lines.append(f"{place} WIND {rng.integers(0, 360):03d}/{rng.integers(1, 50)} TEMP {rng.integers(-9, 30)} ({rng.integers(960, 1045)})")
        else:
            name = NAMES[int(rng.integers(len(NAMES)))]
            lines.append(f"{call(rng)} OP {name}, {rng.integers(10, 90)}-{rng.integers(100, 999)}-{rng.integers(10, 90)} ?")
    return "\n".join(line[:LINE] for line in lines)


def groups(rng):
    """Ten-a-line groups of five random letters, some of figures."""
    lines = []
    for _ in range(int(rng.integers(4, 8))):
        row = []
        for _ in range(10):
            alphabet = "0123456789" if rng.random() < 0.2 else "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
            row.append("".join(alphabet[int(k)] for k in rng.integers(0, len(alphabet), 5)))
        lines.append(" ".join(row))
    return "\n".join(lines)


def text(rng, characters, matter="mixed"):
    """About `characters` characters (cut at exactly that many): a heading, then
    paragraphs of prose, reports and groups in random order, or of one of them."""
    if matter != "mixed":
        make = {"prose": prose, "figures": figures, "groups": groups}[matter]
        parts = [make(rng)]
        while sum(len(p) + 1 for p in parts) < characters + 1:
            parts.append(make(rng))
        return "\n".join(parts)[:characters].rstrip()
    parts = [f"DE {call(rng)} {PLACES[int(rng.integers(len(PLACES)))]}"]
    while sum(len(p) + 1 for p in parts) < characters + 1:
        pick = rng.random()
        parts.append(prose(rng) if pick < 0.55 else figures(rng) if pick < 0.85 else groups(rng))
    return "\n".join(parts)[:characters].rstrip()
