"""The Debian package of the program: made, looked over by lintian, installed in a clean root, practised with, removed."""

import os
import re
import shutil
import subprocess

from manual_lines import ROOT

# The program as it is installed, bytes; of a build for release only.
MOST_BYTES = 30_000_000
PATIENCE_S = 900
# Where cargo-deb is not there yet it is built first; in three minutes on two processors that have little else to do.
MADE_S = 1800


def checks(report, binary):
    if not shutil.which("dpkg-shlibdeps"):
        return report.skip("package", "dpkg-dev is not installed")
    environment = dict(os.environ, MARKHOLD=binary)
    made = subprocess.run(["tools/package"], cwd=ROOT, env=environment, capture_output=True, text=True, timeout=MADE_S)
    report.check("package: it is made", made.returncode == 0, (made.stdout + made.stderr).strip()[-200:])
    if made.returncode:
        return
    tried = subprocess.run(["tools/try_package"], cwd=ROOT, env=environment, capture_output=True, text=True, timeout=PATIENCE_S)
    said = tried.stdout + tried.stderr
    for why in re.findall(r"^skipped: (.*)", said, re.M):
        report.skip("package", why)
    if "lintian:" in said:
        report.check("package: lintian finds no errors", "lintian: no errors" in said, said[-300:] if tried.returncode else "")
    if not re.search(r"^installed:", said, re.M):
        return report.check("package: tried", tried.returncode == 0, said[-300:])
    took = re.search(r"^([\d.]+ s) from a fresh Debian to the first copy", said, re.M)
    report.check("package: a fresh Debian copies with it", bool(took), took[1] if took else said[-300:])
    report.check("package: practised by a person who is not root", "practised: the page answers" in said and "200 OK" in said)
    report.check("package: nothing is left but what the person kept", tried.returncode == 0 and "removed: nothing is left" in said, said[-200:].strip())
    if "/release/" in binary:
        size = int(re.search(r"installed: .*, (\d+) bytes", said)[1])
        report.check("package: stripped it is under 30 MB", size < MOST_BYTES, f"{size} bytes")
