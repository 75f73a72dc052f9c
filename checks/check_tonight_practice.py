"""Tonight on the practice band, in Chromium: a newcomer sees a sked of an invented station within ten minutes,
tunes to it by what the page says, and sees it heard and listed as done; the station's own skeds know nothing of it."""

import json
import subprocess
import tempfile
import time

from check_desk import CHROMIUM, ask, chromium, desk, until

# Ten minutes are promised.
MOST_S = 600
# Time left that is enough to be told and tuned, ms.
ENOUGH_MS = 100_000


def chosen(page):
    """What is on with time left, or what is next: its name, where to set the dial, and when it ends."""
    return page.evaluate(
        """async enough => { const { due } = await (await fetch('/skeds')).json();
        const one = due.find(d => Date.parse(d.ends) - Date.now() > enough);
        return [one.name, one.dial[0].set_khz, (Date.parse(one.ends) - Date.now()) / 1000]; }""", ENOUGH_MS)


def check_practice(report, browser, binary, folder):
    shelf = f"{folder}/real"
    subprocess.run([binary, "skeds", "--shelf", shelf, "add", "Real news", "--at", "2026-01-01T00:00", "--rule", "FREQ=MINUTELY"], check=True, capture_output=True)
    begun = time.monotonic()
    with desk(binary, keep=True, pace=1) as (_, address, _):
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(address)
        until(page, "skeds of the practice band", "document.querySelector('#tonight-due li.first .set') !== null")
        report.check("tonight: practice has its own", "practice band" in page.inner_text("#tonight-name"), page.inner_text("#tonight-due li.first .count"))
        report.check("tonight: practice is not edited", not page.is_visible("#skeds"))
        report.check("tonight: the practice dial needs no telling", not page.is_visible("#dial-form"))
        name, khz, ends_s = chosen(page)
        report.check("tonight: practice has one within ten minutes", ends_s < MOST_S, f"{name}, over in {ends_s:.0f} s")
        ask(page, dial_hz=round(khz * 1000), sideband="lower", off_hz=0, static_per_min=0, volume_db=0)
        until(page, "it being heard", "document.querySelector('#tonight-open .heard') !== null", ends_s + 60)
        report.check("tonight: practice is heard", name in page.inner_text("#tonight-open"), page.inner_text("#tonight-open"))
        done = "name => [...document.querySelectorAll('#tonight-past .kept')].some(li => li.textContent.includes(name))"
        page.evaluate("document.getElementById('tonight-all').click()")
        kept = until(page, "its end", done, ends_s + 120, name)
        report.check("tonight: practice is kept and listed", kept, page.inner_text("#tonight-past"))
        report.check("tonight: all of that within ten minutes", time.monotonic() - begun < MOST_S, f"{time.monotonic() - begun:.0f} s")
        page.close()
    past = subprocess.run([binary, "skeds", "--shelf", shelf, "past", "--json"], capture_output=True, text=True).stdout
    real = [json.loads(line) for line in past.splitlines()]
    report.equal("tonight: practice is in no real shelf", real, [])


def checks(report, binary):
    if CHROMIUM is None:
        report.skip("tonight: practice", "no Chromium on this machine")
        return
    with chromium() as browser, tempfile.TemporaryDirectory() as folder:
        check_practice(report, browser, binary, folder)
