"""The log of contacts as ADIF 3: read by an independent reader (adif-io), and taken in from another
hand's file.

Field names, MODE, the forms of date, time and frequency are those of the published ADIF
specification 3.1.7; the golden record was written down from it by hand.
"""

import json
import os
import subprocess
import tempfile

GOLDEN = "<CALL:5>Q2HLR<QSO_DATE:8>20261114<TIME_ON:4>1930<FREQ:7>3.58300<BAND:3>80m<MODE:4>RTTY<EOR>"
# Another program's: a header, small letters, a type, words between fields, a field of its own.
OTHER = """from elsewhere
<adif_ver:5>3.1.0 <eoh>
<call:5>Q7LMT <qso_date:8:D>20261231 <time_on:6>235930 <time_off:4>0004 <mode:2>CW <freq:6>7.0412
<name:3>ADA <app_elsewhere_mood:4>good <eor>
"""


def run(binary, *words):
    return subprocess.run([binary, "contacts", *words], capture_output=True, text=True)


def checks(report, binary):
    import adif_io

    with tempfile.TemporaryDirectory() as folder:
        shelf = ["--shelf", folder]
        given = ["--at", "2026-11-14T19:30", "--khz", "3583", "--report", "599", "--got", "579", "--name", "JON", "--number", "7", "--call", "Q1ABC"]
        added = run(binary, "add", "q2hlr", *given, *shelf)
        report.check("contacts: one is kept", added.returncode == 0, added.stderr.strip())
        exported = run(binary, "export", "--out", "-", *shelf).stdout
        records, header = adif_io.read_from_string(exported)
        report.check("contacts: the header has the version", header.get("ADIF_VER") == "3.1.7", str(header))
        expected = {"CALL": "Q2HLR", "QSO_DATE": "20261114", "TIME_ON": "193000", "BAND": "80m", "MODE": "RTTY", "RST_SENT": "599", "RST_RCVD": "579", "NAME": "JON", "STX": "7", "STATION_CALLSIGN": "Q1ABC"}
        read = {name: value for name, value in records[0].items() if name != "FREQ"}
        report.check("contacts: another reader reads it", len(records) == 1 and read == expected and float(records[0]["FREQ"]) == 3.583, str(dict(records[0])))
        report.check("contacts: the log itself is that file", open(os.path.join(folder, "contacts.adi")).read() == exported)
        for name, text, told in (("golden", GOLDEN, "0 new, 1 known"), ("other", OTHER, "1 new, 0 known")):
            path = os.path.join(folder, f"{name}.adi")
            with open(path, "w") as out:
                out.write(text)
            done = run(binary, "import", path, *shelf)
            report.check(f"contacts: the {name} file is taken in", done.returncode == 0 and told in done.stderr, done.stderr.strip())
        again, _ = adif_io.read_from_string(run(binary, "export", "--out", "-", *shelf).stdout)
        other = dict(again[1])
        kept = other.get("MODE") == "CW" and other.get("APP_ELSEWHERE_MOOD") == "good" and other.get("QSO_DATE_OFF") == "20270101"
        report.check("contacts: what another log says stays, and an end after midnight is told", kept, str(other))
        run(binary, "add", "Q2HLR", *given[2:], *shelf)
        listed = [json.loads(line) for line in run(binary, "list", "--json", *shelf).stdout.splitlines()]
        report.check("contacts: a double is shown", [c["worked_before"] for c in listed] == [None, None, 1], str([c["worked_before"] for c in listed]))
        bad = run(binary, "import", "/dev/null", *shelf)
        report.check("contacts: an empty file is told", bad.returncode == 2 and "ADIF" in bad.stderr, bad.stderr.strip())
