"""Tonight on the desk's page, in Chromium, from an empty archive: a sked is added in the page, counted
down, seen to be on, changed and removed; the practice band has skeds of its own."""

import datetime as dt
import json
import subprocess
import tempfile

from check_desk import CHROMIUM, desk, until


def at(minutes):
    return (dt.datetime.now(dt.timezone.utc) + dt.timedelta(minutes=minutes)).strftime("%Y-%m-%dT%H:%M")


def first(page):
    return page.inner_text("#tonight-due li.first")


def fill(page, name, begins, **more):
    page.fill("#sked-form [name=name]", name)
    page.fill("#sked-form [name=first]", begins)
    for field, value in more.items():
        page.fill(f"#sked-form [name={field}]", value)
    page.click("#sked-form [type=submit]")


def check_practice(report, browser, binary):
    with desk(binary) as (_, address, _):
        page = browser.new_page()
        page.goto(address)
        until(page, "skeds of the practice band", "document.querySelector('#tonight-due li.first .set') !== null")
        report.check("tonight: practice has its own", "practice band" in page.inner_text("#tonight-name"), first(page)[:90].replace("\n", " "))
        report.check("tonight: practice is not edited", not page.is_visible("#skeds"))
        page.close()


def check_radio(report, browser, binary, folder):
    settings = f"{folder}/settings.toml"
    with open(settings, "w") as file:
        file.write('[receiver]\nshows = "upper-carrier"\nstep_hz = 100\n')
    shelf = f"{folder}/shelf"
    command = [binary, "--port", "0", "--shelf", shelf, "--settings", settings]
    program = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(program.stdout.readline().strip())
        until(page, "tonight", "document.getElementById('tonight').hidden === false")
        report.check("tonight: an empty archive says so", "no skeds yet" in page.inner_text("#tonight-none"))
        page.click("#skeds summary")
        fill(page, "Marsh net", at(65), khz="3597.0", station="Q1LMC", zone="Atlantis")
        until(page, "why not", "document.getElementById('sked-cannot').hidden === false")
        report.check("tonight: a wrong zone is said", "Atlantis" in page.inner_text("#sked-cannot"), page.inner_text("#sked-cannot"))
        fill(page, "Marsh net", at(65), khz="3597.0", station="Q1LMC", zone="UTC")
        until(page, "the sked", "document.querySelector('#tonight-due li.first') !== null")
        told = first(page)
        report.check("tonight: counted down", "Marsh net (Q1LMC) in 1 h 0" in told and "UTC" in told, told[:120].replace("\n", " "))
        # 3597.000 - 2.210 on the upper sideband, to 0.1.
        report.check("tonight: where to set the dial", "Set 3594.80" in told and "plain arithmetic" in told)
        report.check("tonight: when to switch on", "Switch the receiver on at" in told)
        page.click("#sked-list button:has-text('Change')")
        fill(page, "Marsh net", at(-5), lasts="30")
        until(page, "what is on", "document.querySelector('#tonight-due li.on') !== null")
        report.check("tonight: on now", first(page).startswith("Now: Marsh net"), first(page)[:60])
        listed = subprocess.run([binary, "skeds", "--shelf", shelf, "list", "--json"], capture_output=True, text=True)
        kept = [json.loads(line) for line in listed.stdout.splitlines()]
        report.check("tonight: kept in the archive", [k["name"] for k in kept] == ["Marsh net"], listed.stderr[:100])
        page.click("#sked-list button:has-text('Remove')")
        until(page, "none", "document.getElementById('tonight-none').hidden === false")
        report.check("tonight: removed", page.query_selector("#tonight-due li") is None)
        page.close()
    finally:
        program.terminate()
        program.wait(60)


def checks(report, binary):
    if CHROMIUM is None:
        report.skip("tonight", "no Chromium on this machine")
        return
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver, tempfile.TemporaryDirectory() as folder:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        check_radio(report, browser, binary, folder)
        check_practice(report, browser, binary)
        browser.close()
