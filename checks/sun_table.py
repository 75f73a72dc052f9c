"""Rise, set and twilight by the library ephem: the table in crates/markhold-skeds/tests/sun.rs.

For each place and date the sun's passages through a height nearest to the place's mean noon; the
sun's upper edge and 34 minutes of refraction for rise and set, as almanacs take them.
"""

import datetime as dt

import ephem

PLACES = [(0, 0), (51.5, 0), (60, 25), (40, -105), (-33.9, 151.2), (70, 20)]
DATES = ["2026-03-20", "2026-06-21", "2026-09-23", "2026-12-21"]
HEIGHTS = {"Horizon": "-0:50", "Civil": "-6", "Nautical": "-12", "Astronomical": "-18"}


def passages(latitude, longitude, date, horizon):
    here = ephem.Observer()
    here.lat, here.lon, here.pressure, here.elevation, here.horizon = str(latitude), str(longitude), 0, 0, horizon
    noon = dt.datetime.fromisoformat(date) + dt.timedelta(hours=12 - longitude / 15)
    here.date = noon
    sun = ephem.Sun()
    try:
        both = here.previous_rising(sun, use_center=True), here.next_setting(sun, use_center=True)
    except ephem.AlwaysUpError:
        return "up"
    except ephem.NeverUpError:
        return "down"
    return " ".join(f"{t.datetime() + dt.timedelta(seconds=0.5):%Y-%m-%dT%H:%M:%SZ}" for t in both)


for latitude, longitude in PLACES:
    for date in DATES:
        for name, horizon in HEIGHTS.items():
            found = passages(latitude, longitude, date, horizon)
            print(f"{latitude} {longitude} {date} {name} {found}")
