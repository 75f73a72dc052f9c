"""Tonight on the desk's page, in Chromium, from an empty archive: a sked is added in the page, counted
down, seen to be on, changed and removed; one is heard from a sound server, kept and printed."""

import datetime as dt
import json
import os
import re
import shutil
import sqlite3
import subprocess
import tempfile

import alphabet
import check_sound_output
import json_lines
from check_desk import CHROMIUM, chromium, desk, until
from tonight_went import check_went


# Sent with tones of 2125 and 2295 Hz. On the lower sideband 3597.000 + 2.210 is right; the dial reads 340 Hz high.
SENT_KHZ, DIAL_KHZ, READS_HIGH_HZ = "3597.0", "3599.55", 340


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


def check_radio(report, browser, binary, folder):
    settings = f"{folder}/settings.toml"
    with open(settings, "w") as file:
        file.write('[receiver]\nshows = "upper-carrier"\nstep_hz = 100\n')
    shelf = f"{folder}/shelf"
    with desk(binary, "--shelf", shelf, "--settings", settings, practice=False, keep=True) as (_, address, _):
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(address)
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


def make_bulletin(binary, folder):
    """A minute of an invented bulletin; its sound file."""
    text = "ZCZC DE Q1LMC LOW MARSH BULLETIN THE FERRY LEAVES THE JETTY AT NINE " * 4 + "NNNN"
    file = f"{folder}/bulletin.wav"
    command = [binary, "air", text, "--es-n0", "20", "--lead", "1", "--out", file]
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"markhold air: {done.stderr[-200:]}")
    return file


def check_heard(report, browser, binary, folder):
    """From an empty archive: added in the page, counted down, heard from a sound server of its own, kept, done."""
    if not (shutil.which("pulseaudio") and shutil.which("paplay")):
        return report.skip("tonight: a sked that is heard", "pulseaudio and pulseaudio-utils are not installed")
    settings = f"{folder}/soon.toml"
    with open(settings, "w") as file:
        file.write("[skeds]\nearly_min = 0.5\nlate_min = 1\nquiet_min = 0.3\n[receiver]\nstep_hz = 10\n")
        file.write(f'[machine.shack]\nkind = "us-72-45"\nrate_baud = 300\nmotor = false\nway = "codes:{folder}/paper"\n')
    sound, shelf = make_bulletin(binary, folder), f"{folder}/heard"
    words = ["--shelf", shelf, "--settings", settings, "--input", f"pulseaudio:{check_sound_output.SINK}.monitor"]
    with check_sound_output.served(folder) as environment, desk(binary, *words, practice=False, keep=True, environment=environment) as (_, address, _):
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        # A browser whose person allowed notifications; what it is told is written down.
        page.add_init_script("window.rung = []; window.Notification = class { static permission = 'granted'; constructor(_, { body }) { rung.push(body); } };")
        page.goto(address)
        until(page, "tonight", "document.getElementById('tonight').hidden === false")
        page.click("#skeds summary")
        # The next whole minute that leaves time to count down.
        page.click("#sked-form .more summary")
        fill(page, "Marsh bulletin", at(1.3), station="Q1LMC", zone="UTC", lasts="1", khz=SENT_KHZ, print_on="shack")
        until(page, "the sked", "document.querySelector('#tonight-due li.first') !== null")
        page.click("#skeds > summary")
        # The one thing that is told of the dial: where it stands.
        page.fill("#dial-form [name=khz]", DIAL_KHZ)
        page.click("#dial-form [type=submit]")
        until(page, "the dial", "document.getElementById('dial-known').textContent.includes('you said')")
        count = page.inner_text("#tonight-due li.first .count")
        report.check("tonight: counted down in the title", page.title().startswith("Marsh bulletin (Q1LMC) in"), page.title())
        report.check("tonight: counted down by the second", re.search(r"in 0:\d\d|in 1:\d\d", count) is not None, count)
        begun = until(page, "its begin", "document.querySelector('#tonight-due li.on') !== null", 100)
        report.check("tonight: begun", begun, first(page)[:60])
        page.wait_for_timeout(1500)
        rung = page.evaluate("window.rung")
        report.equal("tonight: one notification", rung, ["Marsh bulletin (Q1LMC) begins now."])
        report.check("tonight: the title says so", page.title() == "Now: Marsh bulletin (Q1LMC)", page.title())
        recorder = subprocess.Popen(
            ["parecord", f"--device={check_sound_output.SINK}.monitor", "--file-format=wav", f"{folder}/beside.wav"], env=environment
        )
        player = subprocess.Popen(["paplay", f"--device={check_sound_output.SINK}", sound], env=environment)
        heard = until(page, "hearing it", "document.querySelector('#tonight-open .heard') !== null", 90)
        report.check("tonight: heard", heard, page.inner_text("#tonight-open"))
        keep_picture(page, "tonight-heard")
        player.wait(120)
        recorder.terminate()
        recorder.wait(20)
        done = until(page, "its end", "document.querySelector('#tonight-past .kept') !== null", 120)
        report.check("tonight: listed as done", done, page.inner_text("#tonight-past"))
        until(page, "the paper", "document.getElementById('tonight-past').textContent.includes('printed on shack')", 60)
        report.check("tonight: printed", "printed on shack" in page.inner_text("#tonight-past"), page.inner_text("#tonight-past"))
        keep_picture(page, "tonight-done")
        page.close()
    check_learned(report, binary, shelf, settings)
    check_paper(report, f"{folder}/paper")
    listed = subprocess.run([binary, "shelf", "list", "--shelf", shelf, "--json"], capture_output=True, text=True)
    evenings = [json.loads(line) for line in listed.stdout.splitlines()]
    names = [evening["names"] for evening in evenings]
    report.check("tonight: the evening bears its name", names == [["Marsh bulletin"]], str(names))
    skeds = [binary, "skeds", "--shelf", shelf]
    json_lines.check_kinds(report, "tonight", json_lines.printed([*skeds, "past", "--json"]) + json_lines.printed([*skeds, "known", "1", "--json"]))
    lost = [gap for evening in evenings for gap in evening["gaps"]]
    if lost:  # on a busy computer the sound server itself stutters, and the program says so
        return report.skip("tonight: what was sent is there, whole", f"the sound server lost sound: {lost}")
    # A recorder beside the program has what the sound server really gave.
    beside = subprocess.run([binary, "copy", f"{folder}/beside.wav"], capture_output=True, text=True).stdout
    if not is_whole(beside):
        return report.skip("tonight: what was sent is there, whole", f"nor had a recorder beside it: the sound server stutters: {beside[-60:]}")
    shown = subprocess.run([binary, "shelf", "show", "last", "--shelf", shelf], capture_output=True, text=True)
    report.check("tonight: what was sent is there, whole", is_whole(shown.stdout), shown.stdout[-200:])


def check_learned(report, binary, shelf, settings):
    """What that one sked told of the dial by itself."""
    command = [binary, "skeds", "--shelf", shelf, "--settings", settings]
    told = json.loads(subprocess.run([*command, "dial", "--json"], capture_output=True, text=True).stdout)
    report.equal("tonight: the dial's error is kept by band", [(b["band"], b["evenings"]) for b in told["bands"]], [(3, 1)])
    with sqlite3.connect(f"{shelf}/markhold.sqlite") as archive:
        errors = [error for (error,) in archive.execute("SELECT reads_high_hz FROM dial_found")]
    worst = max((abs(error - READS_HIGH_HZ) for error in errors), default=None)
    report.check("tonight: the error is what it is", worst is not None and worst < 5, f"{len(errors)} times, at most {worst} Hz off")


def check_paper(report, path):
    """What went to the machine, one byte a code."""
    with open(path, "rb") as file:
        page, row = "", alphabet.LETTERS
        for code in file.read():
            row = {alphabet.LTRS: alphabet.LETTERS, alphabet.FIGS: alphabet.FIGURES}.get(code, row)
            page += row[code].replace("_", "")
    # Lines end where the paper does.
    report.check("tonight: the bulletin is on paper", page.count("LOW MARSH BULLETIN") == 4 and "NNNN" in page, page[-120:])
    report.check("tonight: on paper under its name", page.lstrip().startswith("MARSH BULLETIN"), page[:60])


def is_whole(copy):
    # The shelf begins a line after so many seconds, also within a word.
    copy = re.sub(r"\n\d\d:\d\d:\d\d  ", "", copy)
    return copy.count("LOW MARSH BULLETIN") == 4 and "NNNN" in copy


def keep_picture(page, name):
    """For who looks: pictures are kept where MARKHOLD_PICTURES says."""
    folder = os.environ.get("MARKHOLD_PICTURES")
    if folder:
        page.screenshot(path=f"{folder}/{name}.png")


def checks(report, binary):
    if CHROMIUM is None:
        report.skip("tonight", "no Chromium on this machine")
        return
    with chromium() as browser, tempfile.TemporaryDirectory() as folder:
        check_radio(report, browser, binary, folder)
        check_heard(report, browser, binary, folder)
        check_went(report, browser, binary, folder)
