"""In which encoding a text file is written, whatever program saved it."""

from __future__ import annotations

import codecs

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    # Longer marks first: that of UTF-32 begins like that of UTF-16.
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)

_LOOKED_AT = 2000
"""Bytes at the beginning by which UTF-16 without a mark is told."""

_MOSTLY = 0.4
"""Share of zeros in every second byte that tells it: some letters need both bytes."""


def encoding_of(data: bytes) -> tuple[bytes, str]:
    """Return a file's byte order mark, empty if it has none, and the likely encoding of the rest.

    A mark leaves no choice, nor do zeros in every second byte: UTF-16 that lost its mark. Else
    it is UTF-8, or Windows-1252 when it can't be; even that need not fit.
    """
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return mark, encoding
    for zeros_at, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        every_second = data[zeros_at:_LOOKED_AT:2]
        if every_second and every_second.count(0) > _MOSTLY * len(every_second):
            return b"", encoding
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return b"", "windows-1252"
    return b"", "utf-8"
