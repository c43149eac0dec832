"""Strict checks of iCalendar bytes: Debian's libical, and our own for what it lets through.

Section numbers are those of RFC 5545 unless another RFC is named.
"""

from __future__ import annotations

import ctypes
import os
import re
from datetime import datetime, timedelta
from functools import cache
from typing import NoReturn

import pytest


class _IcalTime(ctypes.Structure):
    """`struct icaltimetype` of libical 3."""

    _fields_ = [
        *((name, ctypes.c_int) for name in ("year", "month", "day", "hour", "minute", "second")),
        ("is_date", ctypes.c_int),
        ("is_daylight", ctypes.c_int),
        ("zone", ctypes.c_void_p),
    ]


def missing(reason: str) -> NoReturn:
    """Skip a test by the name of what it lacks; where CI is set nothing may lack."""
    if os.environ.get("CI"):
        pytest.fail(reason)
    pytest.skip(reason)


@cache
def libical() -> ctypes.CDLL:
    """Return libical 3, or skip the test by name; where CI is set the skip is a failure."""
    try:
        library = ctypes.CDLL("libical.so.3")
    except OSError:
        missing("libical 3 is not installed (Debian package libical3)")
    library.icalparser_parse_string.restype = ctypes.c_void_p
    library.icalparser_parse_string.argtypes = [ctypes.c_char_p]
    library.icalrestriction_check.argtypes = [ctypes.c_void_p]
    library.icalcomponent_count_errors.argtypes = [ctypes.c_void_p]
    library.icalcomponent_as_ical_string.restype = ctypes.c_char_p
    library.icalcomponent_as_ical_string.argtypes = [ctypes.c_void_p]
    library.icalcomponent_free.argtypes = [ctypes.c_void_p]
    library.icaltimezone_new.restype = ctypes.c_void_p
    library.icaltimezone_set_component.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
    library.icaltimezone_free.argtypes = [ctypes.c_void_p, ctypes.c_int]
    library.icaltimezone_get_utc_offset_of_utc_time.argtypes = [
        ctypes.c_void_p,
        ctypes.POINTER(_IcalTime),
        ctypes.POINTER(ctypes.c_int),
    ]
    return library


def libical_faults(data: bytes) -> list[str]:
    """Return what libical's parser and its restriction check (RFC 5546 tables) object to."""
    library = libical()
    component = library.icalparser_parse_string(data)
    if not component:
        return ["libical cannot parse it"]
    try:
        passed = library.icalrestriction_check(component)
        errors = library.icalcomponent_count_errors(component)
        if passed and not errors:
            return []
        text = library.icalcomponent_as_ical_string(component).decode()
        marked = re.findall(r"X-LIC-ERROR[^\r\n]*(?:\r?\n [^\r\n]*)*", text)
        return marked or ["libical's restriction check failed"]
    finally:
        library.icalcomponent_free(component)


def libical_offsets(vtimezone: bytes, moments: list[datetime]) -> list[timedelta]:
    """Return the offsets from UTC that libical reads out of a VTIMEZONE at moments in UTC."""
    library = libical()
    zone = library.icaltimezone_new()
    component = library.icalparser_parse_string(vtimezone)
    if not library.icaltimezone_set_component(zone, component):
        raise AssertionError("libical does not accept the VTIMEZONE")
    offsets = []
    for moment in moments:
        at = _IcalTime(
            moment.year, moment.month, moment.day, moment.hour, moment.minute, moment.second
        )
        daylight = ctypes.c_int()
        seconds = library.icaltimezone_get_utc_offset_of_utc_time(
            zone, ctypes.byref(at), ctypes.byref(daylight)
        )
        offsets.append(timedelta(seconds=seconds))
    library.icaltimezone_free(zone, 1)
    return offsets


_ONCE_IN_VEVENT = ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "STATUS", "SEQUENCE", "TRANSP")
_LEGAL = (
    ("3.8.1.11", "STATUS:(TENTATIVE|CONFIRMED|CANCELLED)"),
    ("3.8.2.7", "TRANSP:(OPAQUE|TRANSPARENT)"),
    ("3.8.7.2", r"DTSTAMP:\d{8}T\d{6}Z"),
    ("3.8.7.4", r"SEQUENCE:\d+"),
)
_IN_OBSERVANCE = {"DTSTART", "TZOFFSETFROM", "TZOFFSETTO", "TZNAME", "RDATE"}


def own_faults(data: bytes) -> list[str]:
    """Return faults that libical lets through, or that only hold for what we write."""
    faults = []
    if not data.endswith(b"\r\n") or b"\n" in data.replace(b"\r\n", b""):
        faults.append("3.1: every line ends with CRLF")
    for line in data.split(b"\r\n"):
        if len(line) > 75:
            faults.append(f"3.1: a line of {len(line)} octets, 75 at most: {line!r}")
        try:
            line.decode()
        except UnicodeDecodeError:
            faults.append(f"3.1: a character is cut by a fold: {line!r}")
    text = data.decode(errors="replace")
    if re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", text):
        faults.append("3.3.11: a control character")
    lines = text.replace("\r\n ", "").split("\r\n")
    zones = set(re.findall(r"^TZID:(.*)$", "\n".join(lines), re.M))
    path: list[str] = []
    seen: list[dict[str, list[str]]] = []
    uids: list[str] = []
    for line in lines[:-1]:
        name = re.split("[;:]", line)[0]
        value = line.partition(":")[2]
        if name == "BEGIN":
            path.append(value)
            seen.append({})
            continue
        if name == "END":
            if value != path[-1]:
                faults.append(f"3.6: {path[-1]} ends as {value}")
            faults += _component_faults(path.pop(), seen.pop(), uids)
            continue
        seen[-1].setdefault(name, []).append(line)
        if name == "METHOD":
            faults.append("METHOD makes ORGANIZER mandatory (RFC 5546, 3.2.1)")
        if path[-1] in ("STANDARD", "DAYLIGHT") and name not in _IN_OBSERVANCE:
            faults.append(f"3.6.5: {name} in {path[-1]}")
        if path[-1] == "VTIMEZONE" and name != "TZID":
            faults.append(f"3.6.5: {name} in VTIMEZONE")
        used = re.search(r";TZID=([^:;]*)", line)
        if used and used[1] not in zones:
            faults.append(f"3.2.19: no VTIMEZONE for {used[1]}")
        if name == "REFRESH-INTERVAL" and ";VALUE=DURATION" not in line:
            faults.append("RFC 7986, 5.7: REFRESH-INTERVAL without VALUE=DURATION")
    if len(set(uids)) < len(uids):
        faults.append("3.8.4.7: a UID twice")
    return faults


def _component_faults(name: str, seen: dict[str, list[str]], uids: list[str]) -> list[str]:
    faults = []
    if name == "VEVENT":
        for wanted in _ONCE_IN_VEVENT:
            if len(seen.get(wanted, [])) != 1:
                faults.append(f"3.6.1: {wanted} {len(seen.get(wanted, []))} times in a VEVENT")
        uids += seen.get("UID", [])
        for section, legal in _LEGAL:
            line = seen.get(legal.split(":")[0], [""])[0]
            if not re.fullmatch(legal, line):
                faults.append(f"{section}: {line}")
        start, end = seen.get("DTSTART", [""])[0], seen.get("DTEND", [""])[0]
        if start.partition(":")[0][7:] != end.partition(":")[0][5:]:
            faults.append("3.8.2.2: DTSTART and DTEND of different type or zone")
        if end.partition(":")[2] <= start.partition(":")[2]:
            faults.append(f"3.8.2.2: DTEND not after DTSTART: {start} {end}")
    if name == "VALARM":
        for wanted in ("ACTION", "DESCRIPTION", "TRIGGER"):
            if len(seen.get(wanted, [])) != 1:
                faults.append(f"3.6.6: {wanted} {len(seen.get(wanted, []))} times in a VALARM")
        trigger = seen.get("TRIGGER", [""])[0]
        if not re.fullmatch(r"TRIGGER:-?P(\d+D)?(T(\d+H)?(\d+M)?(\d+S)?)?", trigger):
            faults.append(f"3.3.6: {trigger}")
    if name in ("STANDARD", "DAYLIGHT"):
        for wanted in ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO"):
            if len(seen.get(wanted, [])) != 1:
                faults.append(f"3.6.5: {wanted} {len(seen.get(wanted, []))} times in {name}")
    return faults
