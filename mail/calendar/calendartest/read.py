"""Reads a calendar on standard input; writes what it saw as JSON.

Local times are reckoned with the VTIMEZONE in the file alone, never with a
zone table of this machine.
"""
import datetime
import json
import sys

import icalendar
import pytz

cal = icalendar.Calendar.from_ical(sys.stdin.buffer.read())
zones = {str(z["TZID"]): z.to_tz() for z in cal.walk("VTIMEZONE")}


def when(event, name):
    if name not in event:
        return ""
    prop = event[name]
    value = prop.dt
    if not isinstance(value, datetime.datetime):
        return value.isoformat()
    if "TZID" in prop.params:
        zone = zones[prop.params["TZID"]]
        # A time that comes twice is the first of the two (RFC 5545, 3.3.5).
        value = zone.localize(value.replace(tzinfo=None), is_dst=True)
    return value.astimezone(pytz.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


print(json.dumps([
    {
        "Method": str(cal.get("METHOD", "")),
        "UID": str(e["UID"]),
        "Summary": str(e.get("SUMMARY", "")),
        "Description": str(e.get("DESCRIPTION", "")),
        "Status": str(e.get("STATUS", "")),
        "Sequence": int(e["SEQUENCE"]),
        "Start": when(e, "DTSTART"),
        "End": when(e, "DTEND"),
    }
    for e in cal.walk("VEVENT")
]))
