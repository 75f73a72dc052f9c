"""Skeds, by others: Python's dateutil for rules, zoneinfo for zones, the `icalendar` library.

Random rules in random zones, as the crate's example program `occurrences` gives them, against
dateutil's on the clock of the wall with zoneinfo's offsets (fold 0: RFC 5545 3.3.5). Both read the zones of one
folder, that of the package tzdata: what is compared is the reckoning.

    check_skeds.py [COUNT]   so many rules; 10000 unless said
"""

import datetime as dt
import json
import os
import pathlib
import random
import subprocess
import sys
import tempfile
import types
import warnings
import zoneinfo

import tzdata
from dateutil import rrule

from examples import example

ZONE_FILES = pathlib.Path(tzdata.__file__).parent / "zoneinfo"
# In the run of all checks; the 10 000 are for the command above.
FEW, ALL = 600, 10_000
DAYS = ["MO", "TU", "WE", "TH", "FR", "SA", "SU"]
UTC = dt.timezone.utc


def some(chance, values, most):
    return sorted(chance.sample(values, chance.randint(1, most)))


def listed(name, values):
    return f"{name}={','.join(map(str, values))}"


def by_parts(chance, freq):
    """Parts of a rule that may stand with its frequency (RFC 5545 3.3.10, the table of BYxxx)."""
    parts = []
    if chance.random() < 0.35:
        parts.append(listed("BYMONTH", some(chance, range(1, 13), 5)))
    if freq not in ("WEEKLY",) and chance.random() < 0.3:
        days = [*range(1, 32), *range(-31, 0)]
        parts.append(listed("BYMONTHDAY", some(chance, days, 5)))
    if freq == "YEARLY" and chance.random() < 0.15:
        parts.append(listed("BYYEARDAY", some(chance, [*range(1, 367), *range(-366, 0)], 5)))
    if freq == "YEARLY" and not parts and chance.random() < 0.15:
        parts.append(listed("BYWEEKNO", some(chance, [*range(1, 54), *range(-53, 0)], 5)))
    if chance.random() < 0.45:
        days = some(chance, DAYS, 5)
        week_numbered = any(p.startswith(("BYWEEKNO", "BYYEARDAY")) for p in parts)
        if freq in ("MONTHLY", "YEARLY") and not week_numbered and chance.random() < 0.6:
            most = 5 if freq == "MONTHLY" or any(p.startswith("BYMONTH=") for p in parts) else 53
            # The fifth from the end of a month and the 53rd from that of a year are refused here, a
            # limit of the library (docs/skeds.md).
            least = {"MONTHLY": -4, "YEARLY": max(-52, -most)}[freq]
            days = [f"{chance.choice([chance.randint(1, most), chance.randint(least, -1)])}{day}" for day in days]
        parts.append(listed("BYDAY", days))
    if freq not in ("HOURLY", "MINUTELY") and chance.random() < 0.3:
        parts.append(listed("BYHOUR", some(chance, range(24), 4)))
    if freq != "MINUTELY" and chance.random() < 0.3:
        parts.append(listed("BYMINUTE", some(chance, range(60), 3)))
    if parts and freq not in ("HOURLY", "MINUTELY") and chance.random() < 0.2:
        parts.append(listed("BYSETPOS", some(chance, [1, 2, 3, -1, -2], 2)))
    return parts


def a_rule(chance, first):
    freq = chance.choice(["DAILY", "WEEKLY", "WEEKLY", "MONTHLY", "MONTHLY", "YEARLY", "HOURLY", "MINUTELY"])
    rule = [f"FREQ={freq}"]
    if chance.random() < 0.5:
        rule.append(f"INTERVAL={chance.randint(1, 20)}")
    rule += by_parts(chance, freq)
    if chance.random() < 0.4:
        rule.append(f"WKST={chance.choice(DAYS)}")
    end = chance.random()
    if end < 0.3:
        rule.append(f"COUNT={chance.randint(1, 60)}")
    elif end < 0.6:
        until = first + dt.timedelta(minutes=chance.randint(0, 3 * 366 * 1440))
        rule.append(f"UNTIL={until:%Y%m%dT%H%M%S}Z")
    return ";".join(rule)


def a_case(chance, zones):
    zone = chance.choice(zones)
    # From before many zones' rules of today to after them; often near a change of the clock.
    first = dt.datetime(chance.randint(1975, 2035), 1, 1) + dt.timedelta(minutes=15 * chance.randrange(35_040))
    if chance.random() < 0.3:
        first = near_a_change(chance, zone, first)
    rule = a_rule(chance, first)
    span = 3 * 366 if "HOURLY" not in rule and "MINUTELY" not in rule else 40
    begin = first.replace(tzinfo=UTC) + dt.timedelta(days=chance.randint(-3, span // 3))
    return {
        "when": {"zone": zone, "first": first.isoformat(), "rules": [rule]},
        "from": int(begin.timestamp()),
        "until": int(begin.timestamp()) + span * 86_400,
        "most": 40,
    }


def near_a_change(chance, zone, first):
    """A time within two hours of the first change of the clock in the year, if there is one."""
    here = zoneinfo.ZoneInfo(zone)
    offset = first.replace(tzinfo=here).utcoffset()
    for hour in range(366 * 24):
        if (first + dt.timedelta(hours=hour)).replace(tzinfo=here).utcoffset() != offset:
            return first.replace(minute=30) + dt.timedelta(hours=hour + chance.randint(-2, 2) - 24 * 7)
    return first


def by_dateutil(case):
    """Rules on the wall by dateutil without zones, instants by zoneinfo."""
    when = case["when"]
    here = zoneinfo.ZoneInfo(when["zone"])
    first = dt.datetime.fromisoformat(when["first"])
    rule, until = when["rules"][0], None
    parts = [p for p in rule.split(";") if not p.startswith("UNTIL=")]
    if len(parts) < rule.count(";") + 1:
        stamp = rule.split("UNTIL=")[1].split(";")[0]
        until = dt.datetime.strptime(stamp, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC).timestamp()
    found, last = set(), case["until"] + 3 * 86_400
    # A rule that never gives anything is walked through to the end of the calendar, which is year 9999.
    rrule.datetime = types.SimpleNamespace(**{**vars(dt), "MAXYEAR": dt.datetime.fromtimestamp(last, UTC).year})
    for time in rrule.rrulestr(";".join(parts), dtstart=first):
        # Enough, with those that a change of the clock may put before them.
        if time.replace(tzinfo=UTC).timestamp() > last or len(found) > case["most"] + 1500:
            break
        at = int(time.replace(tzinfo=here).timestamp())
        if case["from"] <= at < case["until"] and (until is None or at <= until):
            found.add(at)
    return sorted(found)[: case["most"]]


def compare(report, occurrences, count, seed=5545):
    zoneinfo.reset_tzpath(to=[str(ZONE_FILES)])
    zoneinfo.ZoneInfo.clear_cache()
    zones = sorted(z for z in zoneinfo.available_timezones() if "/" in z and not z.startswith("Etc/"))
    chance = random.Random(seed)
    cases = [a_case(chance, zones) for _ in range(count)]
    asked = "".join(json.dumps(case) + "\n" for case in cases)
    told = subprocess.run([occurrences], input=asked, capture_output=True, text=True,
                          env={**os.environ, "TZDIR": str(ZONE_FILES)})
    report.check("skeds: the example ran", told.returncode == 0, told.stderr[-200:])
    different, refused, instants = [], 0, 0
    for case, line in zip(cases, told.stdout.splitlines(), strict=True):
        ours = json.loads(line)
        if isinstance(ours, str):
            refused += 1
            different.append((case, ours))
            continue
        theirs = by_dateutil(case)
        instants += len(theirs)
        if ours != theirs:
            different.append((case, f"{ours[:3]} for {theirs[:3]}, {len(ours)} for {len(theirs)}"))
    for case, what in different[:5]:
        print(f"      {json.dumps(case['when'])}: {what}")
    detail = f"{len(different)} of {count} different, {refused} of them refused; {instants} instants, {len(zones)} zones"
    report.check("skeds: rules and zones against dateutil and zoneinfo", not different, detail)
    report.check("skeds: the rules give something", instants > 5 * count, f"{instants} instants")


def check_calendar(report, binary):
    """What goes out as a calendar, read by another library."""
    import icalendar

    zone = zoneinfo.ZoneInfo("Europe/London")
    with tempfile.TemporaryDirectory() as folder:
        skeds = [binary, "skeds", "--shelf", f"{folder}/shelf"]
        name = "Bulletin; with, signs \\\\ and a long name that no line of seventy-five octets holds, ünï"
        made = subprocess.run([*skeds, "add", name, "--at", "2026-01-04T20:00", "--zone", "Europe/London", "--rule", "FREQ=WEEKLY",
                               "--on", "3597.4", "--length", "20"], capture_output=True, text=True)
        report.check("skeds: one is added", made.returncode == 0, made.stderr[-200:])
        file = subprocess.run([*skeds, "export", "--alarm", "30"], capture_output=True).stdout
        events = icalendar.Calendar.from_ical(file).walk("VEVENT")
        report.check("skeds: a year of events", 52 <= len(events) <= 53, f"{len(events)} events")
        right = all(e["DTSTART"].dt.astimezone(zone).strftime("%a %H:%M") == "Sun 20:00" and e["DTEND"].dt - e["DTSTART"].dt == dt.timedelta(minutes=20)
                    and e["DTSTART"].dt.utcoffset() == dt.timedelta(0) for e in events)
        report.check("skeds: events are at 20:00 in London all year, in UTC", right)
        rings = [a["TRIGGER"].dt for e in events for a in e.walk("VALARM")]
        report.check("skeds: each rings half an hour before", rings == [dt.timedelta(minutes=-30)] * len(events))
        report.equal("skeds: the name came through", {str(e["SUMMARY"]) for e in events}, {name})


def checks(report, binary, count=FEW):
    check_calendar(report, binary)
    check_rules(report, binary, count)


def check_rules(report, binary, count):
    warnings.simplefilter("ignore")
    compare(report, example(binary, "markhold-skeds", "occurrences"), count)


if __name__ == "__main__":
    from report import Report

    report = Report()
    check_rules(report, "target/release/markhold", int(sys.argv[1]) if len(sys.argv) > 1 else ALL)
    sys.exit(0 if report.close() else 1)
