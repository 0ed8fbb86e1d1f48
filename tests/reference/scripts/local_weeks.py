"""Local days and ISO 8601 weeks of instants in time zones, by Python's datetime and zoneinfo.

Written to the file named as the only argument. Shares nothing with the project: days come from the system's
(or the tzdata package's) zone tables, Mondays from date.isocalendar, which follows ISO 8601.
"""
import json
import random
import sys
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

ZONES = ["UTC", "Europe/Berlin", "America/New_York", "America/St_Johns", "Asia/Kathmandu", "Asia/Kolkata",
         "Australia/Lord_Howe", "Pacific/Apia", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Pacific/Chatham",
         "Africa/Casablanca", "America/Sao_Paulo"]
# Only years that are over: zone tables change for times to come whenever a country decides so, and Python and Node carry
# tables of different years. Round clock changes, ends of years and the day Samoa left out (30 December 2011).
SPECIAL = ["2011-12-29T09:59:59", "2011-12-30T09:59:59", "2011-12-30T10:00:00", "2011-12-31T10:00:00",
           "2024-03-31T00:59:59", "2024-03-31T01:00:00", "2024-10-27T00:30:00", "2024-10-27T22:59:59",
           "2024-10-27T23:00:00", "2025-03-09T06:59:59", "2025-11-02T05:30:00", "2025-04-05T15:00:00",
           "2020-12-31T23:30:00", "2021-01-01T00:30:00", "2024-12-29T23:59:59", "2024-12-30T00:00:00",
           "2020-12-31T12:00:00", "2021-01-03T23:00:00", "2024-02-29T12:00:00", "2025-03-01T18:14:59",
           "2025-03-01T18:15:00"]

rng = random.Random(20260301)
instants = [datetime.fromisoformat(text).replace(tzinfo=timezone.utc) for text in SPECIAL]
start = datetime(2015, 1, 1, tzinfo=timezone.utc)
instants += [start + timedelta(seconds=rng.randrange(10 * 365 * 86400)) for _ in range(40)]


def row(at, zone):
    day = at.astimezone(ZoneInfo(zone)).date()
    year, week, weekday = day.isocalendar()
    return {"at": at.isoformat().replace("+00:00", "Z"), "timeZone": zone, "day": day.isoformat(),
            "monday": date.fromisocalendar(year, week, 1).isoformat(), "isoWeekday": weekday}


with open(sys.argv[1], "w") as file:
    json.dump({"source": "Python datetime and zoneinfo; ISO 8601 weeks by date.isocalendar",
               "rows": [row(at, zone) for at in instants for zone in ZONES]}, file, indent=0)
    file.write("\n")
