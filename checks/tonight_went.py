"""How skeds went, on the desk's page in Chromium: eight weeks of an invented bulletin on two bands are written
into an archive, and the page draws them, by band and hour too, and says the one thing that they bear."""

import datetime as dt
import os
import sqlite3
import subprocess

from check_desk import check_access, desk, until

# The bulletin's two skeds: number, kHz, share of sure characters on seven of the eight evenings, and on one.
BANDS = [(1, "3597", 0.6, 0.9), (2, "7047", 0.95, 0.5)]
WEEKS = 8
CHARACTERS = 1000


def make_shelf(binary, folder):
    shelf = f"{folder}/weeks"
    first = (dt.datetime.now(dt.timezone.utc) - dt.timedelta(weeks=WEEKS + 1)).replace(minute=0, second=0, microsecond=0)
    for _, khz, _, _ in BANDS:
        words = ["add", "Low Marsh bulletin", "--at", f"{first:%Y-%m-%dT%H:%M}", "--rule", "FREQ=WEEKLY", "--on", khz, "--place", "JO02"]
        subprocess.run([binary, "skeds", "--shelf", shelf, *words], check=True, capture_output=True)
    with sqlite3.connect(f"{shelf}/markhold.sqlite") as archive:
        for week in range(1, WEEKS + 1):
            for sked, _, usual, once in BANDS:
                evening(archive, sked, first + dt.timedelta(weeks=week), once if week == 3 else usual)
        missed(archive, first)
    return shelf


def evening(archive, sked, begins, sure):
    """One that was kept, and so many of its characters sure."""
    ms = int(begins.timestamp() * 1000)
    doubtful = round(CHARACTERS * (1 - sure))
    row = archive.execute("INSERT INTO evenings (begin_ms, end_ms, zone, input, settings, folder) VALUES (?, ?, 'UTC', 'invented', '{}', ?)",
                          (ms, ms + 1_200_000, f"none-{sked}-{ms}")).lastrowid
    reading = archive.execute("INSERT INTO readings (evening, made_ms, receiver, settings, live, whole, finished, heard_s, characters, doubtful, copied_s) "
                              "VALUES (?, ?, 'invented', '{}', 1, 1, 1, 1200, ?, ?, 1200)", (row, ms, CHARACTERS, doubtful)).lastrowid
    signal = archive.execute("INSERT INTO signals (reading, number) VALUES (?, 1)", (reading,)).lastrowid
    archive.execute("INSERT INTO lines (id, signal, number, begin_s, end_s, text, characters, doubtful, closed, details) VALUES (?, ?, 1, 1, 2, 'X', ?, ?, 1, x'00')",
                    (1024 * ms + sked, signal, CHARACTERS, doubtful))
    run(archive, sked, ms, "kept", "", f"[[{row}, [1]]]")


def missed(archive, first):
    for sked, why in ((1, "nothing that fits was heard"), (2, "no sound: the cable was pulled")):
        run(archive, sked, int(first.timestamp() * 1000), "missed", why, "[]")


def run(archive, sked, ms, state, cause, kept_in):
    archive.execute("INSERT INTO sked_runs (sked, begins_ms, ends_ms, title, state, cause, kept_in) VALUES (?, ?, ?, 'Low Marsh bulletin', ?, ?, ?)",
                    (sked, ms, ms + 1_200_000, state, cause, kept_in))


def check_went(report, browser, binary, folder):
    shelf = make_shelf(binary, folder)
    settings = f"{folder}/went.toml"
    with open(settings, "w") as file:
        file.write('[receiver]\nplace = "JO50"\n')
    with desk(binary, "--shelf", shelf, "--settings", settings, practice=False, keep=True) as (_, address, _):
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(address)
        until(page, "tonight", "document.getElementById('tonight').hidden === false")
        page.click("#went > summary")
        until(page, "the pictures", "document.querySelectorAll('#went figure').length === 3")
        hint = page.inner_text("#went-hint")
        report.check("went: one honest hint", f"7 of the last {WEEKS}" in hint and "better on 7 MHz than on 3 MHz" in hint, hint)
        count = lambda css: page.evaluate("css => document.querySelectorAll(css).length", css)
        report.equal("went: every run is drawn, and what was missed", (count("#went circle.kept"), count("#went .unheard"), count("#went .away")), (2 * WEEKS, 1, 1))
        report.equal("went: the sun at both ends", count("#went .sun"), 2 * 2 * (WEEKS + 1))
        cells = page.evaluate("[...document.querySelectorAll('#went .hour title')].map(t => t.textContent)")
        # 7 MHz: (7 * 95 + 50) / 8 = 89 %. 3 MHz: (7 * 60 + 90 + 0) / 9 = 57 %, with the one that was not heard.
        said = any("7 MHz" in c and "8 times, 89 %" in c for c in cells) and any("3 MHz" in c and "9 times, 57 %" in c for c in cells)
        report.check("went: by band and hour", said and len(cells) == 2, "; ".join(cells))
        page.click("#skeds > summary")
        page.wait_for_timeout(300)
        page.click("#sked-form .more summary")
        check_access(report, page, "skeds, opened")
        pictures = os.environ.get("MARKHOLD_PICTURES")
        if pictures:
            page.locator("#went").screenshot(path=f"{pictures}/went.png")
        page.close()
