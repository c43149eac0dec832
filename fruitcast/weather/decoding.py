"""From the bytes of a weather file to its text, whatever program saved it."""

from __future__ import annotations

from pathlib import Path

from fruitcast.errors import InputError
from fruitcast.tables.faultlist import FaultList, quoted
from fruitcast.tables.text import encoding_of
from fruitcast.weather.remedies import BY_STATION, TAKE_IN

MOST_BYTES = 15_000_000
"""Longest file read: two centuries with a dozen columns. [byte]"""

_NOT_TEXT = (
    (b"PK\x03\x04", "a spreadsheet workbook or zip archive"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"%PDF", "a PDF"),
    (b"SQLite format 3", "a database"),
)
_SAVE_AS_CSV = "Open it in a spreadsheet and save it as CSV, or unpack it first"


def read_lines(path: Path, faults: FaultList) -> list[str]:
    """Return the lines of a weather file; empty, with a fault noted, when it holds no table.

    UTF-8 with or without a byte-order mark, UTF-16, UTF-32 and Windows-1252 are understood.

    Raises
    ------
    InputError
        If the file is absent or can't be read.
    """
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            raise InputError(
                f"{path}: this is no file but a device or a pipe. Save the weather to a file first."
            )
        if path.exists() and path.stat().st_size > MOST_BYTES:
            raise InputError(
                f"{path}: a file of {path.stat().st_size / 1e6:.0f} MB is no daily weather of one "
                "place. Keep the rows of one station, one a day."
            )
        raw = path.read_bytes()
    except FileNotFoundError:
        raise InputError(
            f"{path}: there is no such weather file. Check its name. A yard's own is made by "
            f"{TAKE_IN}; without one, {BY_STATION} fetches the weather over the network."
        ) from None
    except OSError as error:
        raise InputError(
            f"{path}: the weather file can't be read ({error.strerror or error}). Check that it "
            "is a file and that you may read it."
        ) from error

    for magic, what in _NOT_TEXT:
        if raw.startswith(magic):
            faults.add("not text", f"this is {what}, not a text file", _SAVE_AS_CSV)
            return []
    text = decode(raw)
    head = text.lstrip()[:2000].lower()
    if not head:
        faults.add(
            "empty", "the file is empty", "Save the weather again: date, tmin, tmax and rain"
        )
        return []
    if head.startswith("<") and any(
        tag in head for tag in ("<html", "<!doctype", "<body", "<?xml")
    ):
        faults.add(
            "web page",
            f"this is a web page, not a weather table; it begins {quoted(head)}",
            "The download gave a log-in or error page: fetch the file again and look at it",
            line=1,
        )
        return []
    if head.startswith(("{", "[{")):
        faults.add(
            "JSON", "this is JSON, not a table", "Download the weather as CSV instead", line=1
        )
        return []
    if "\x00" in text:
        line = text[: text.index("\x00")].count("\n") + 1
        faults.add("not text", "this is not a text file: it holds zero bytes", _SAVE_AS_CSV, line)
        return []
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def decode(raw: bytes) -> str:
    """Return the text of bytes in the most likely encoding, without a byte-order mark."""
    mark, encoding = encoding_of(raw)
    return raw[len(mark) :].decode(encoding, errors="replace")
