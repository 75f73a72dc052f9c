"""What a person does with the readings of an evening, in a real browser: a line corrected by hand, another reading
chosen, two laid beside each other.
"""

import json
import subprocess
import tempfile

from check_desk import check_nothing_found, desk, say, until

TEXT = "CQ CQ DE Q1LMC THE FERRY LEAVES THE NORTH STEPS AT NINE AND AT FOUR = NNNN"
LINE = "[...document.querySelectorAll('#sheet .line')].map(l => l.textContent).join(' ')"


def run(binary, folder, *words):
    return subprocess.run([binary, *words], cwd=folder, capture_output=True, text=True, check=False).stdout


def checks(report, browser, binary):
    with tempfile.TemporaryDirectory() as folder:
        run(binary, folder, "air", TEXT, "--es-n0", "12", "--lead", "2", "--seed", "3", "--out", "one.wav")
        run(binary, folder, "shelf", "--shelf", "kept", "add", "one.wav")
        with desk(binary, "--shelf", f"{folder}/kept", keep=True) as (_, address, _):
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            wrong = []
            page.on("pageerror", lambda error: wrong.append(str(error)))
            page.goto(f"{address}evenings#1")
            until(page, "its copy", "document.querySelectorAll('#sheet .line').length > 0", 20)
            heard = page.evaluate(LINE)
            check_correct(report, page, binary, folder)
            check_beside(report, page)
            check_stand(report, page, heard)
            check_access(report, page)
            report.check("hands: nothing wrong in the browser", not wrong, "; ".join(wrong))
            page.close()


def check_correct(report, page, binary, folder):
    page.click("#correct")
    before = page.input_value("#correction-text")
    page.fill("#correction-text", before.upper().replace("FERRY", "QUERY") + " AR")
    page.click("#correction button[type=submit]")
    kept = until(page, "the correction", f"({LINE}).includes('QUERY')", 15)
    reading = page.evaluate("document.getElementById('reading').selectedOptions[0].textContent")
    report.check("hands: a correction is one more reading, a person's, and stands", kept and "corrected by a person" in reading and "stands" in reading and page.evaluate("document.getElementById('reading').options.length") == 2, reading)
    found = run(binary, folder, "shelf", "--shelf", "kept", "search", "QUERY", "--json")
    report.check("hands: the shelf finds it", len(found.splitlines()) == 1 and "QUERY" in json.loads(found.splitlines()[0]).get("text", ""), found[:120])
    page.click("#correct")
    page.fill("#correction-text", "\u00fc")
    page.click("#correction button[type=submit]")
    told = until(page, "that it cannot be", "/on no five-unit machine/.test(document.getElementById('alerts').textContent)", 10)
    report.check("hands: what no machine prints is refused in words", told, say(page, "#alerts"))
    page.click("#correction-leave")


def check_beside(report, page):
    page.select_option("#beside", "1")
    told = until(page, "the differences", "document.querySelectorAll('#differences ins, #differences del').length > 1", 10)
    words = say(page, "#differences")
    report.check("hands: two readings beside each other tell where they differ", told and words.startswith("1 of "), words[:160])


def check_stand(report, page, heard):
    page.select_option("#reading", "1")
    back = until(page, "the receiver's", "heard => " + LINE + " === heard", 10, heard)
    page.click("#stand")
    stands = until(page, "that it stands", "/stands/.test(document.getElementById('reading').selectedOptions[0].textContent)", 10)
    report.check("hands: the receiver's stays as it was, and is let stand", back and stands, page.evaluate("document.getElementById('reading').selectedOptions[0].textContent"))


def check_access(report, page):
    page.click("#correct")
    page.select_option("#beside", "2")
    check_nothing_found(report, page, "hands")
    page.set_viewport_size({"width": 360, "height": 740})
    wide = page.evaluate("document.documentElement.scrollWidth")
    report.check("hands: fits a phone", wide <= 360, f"{wide} px")
