"""From the bytes of a file that people wrote to its text, whatever program saved it."""

from __future__ import annotations

import codecs
import re
from difflib import SequenceMatcher
from pathlib import Path

from fruitcast.tables.values import WrongValueError

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


# Bytes of a file that people write, as text: byte order marks, encodings, impostors.

MOST_BYTES = 20_000_000
"""Longest file read. [byte]"""

_ZERO, _NEW = "\x00", "\n"
_NOT_TEXT = {
    b"PK\x03\x04": (
        "is a spreadsheet's own file, not a text",
        "In the spreadsheet, save it as CSV (comma separated values) under this name.",
    ),
    b"%PDF": ("is a PDF document", "Save the table itself as CSV under this name."),
    b"SQLite format 3": ("is a data base, not a text", "Restore the text from a backup."),
}


def read_text(path: Path) -> str:
    """Return a file's text, its lines parted by single newlines.

    Raises WrongValueError if it cannot be read, is empty, or is something else than a text.
    """
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            raise WrongValueError("is no file but a device or a pipe", "Put a file in its place.")
        if path.exists() and path.stat().st_size > MOST_BYTES:
            raise WrongValueError(
                f"is larger than {MOST_BYTES // 1_000_000} MB", "Restore it from a backup."
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise WrongValueError("there is no such file", "Write it, or restore it.") from None
    except OSError as error:
        raise WrongValueError(
            f"can't be read ({error.strerror or error})", "Check its permissions."
        ) from None
    return decode(data)


def decode(data: bytes) -> str:
    """Return the text in bytes; see `read_text`. Without a mark it is UTF-8, else Windows-1252."""
    for start, (problem, remedy) in _NOT_TEXT.items():
        if data.startswith(start):
            raise WrongValueError(problem, remedy)
    text = _decoded(data)
    if "\x00" in text:
        raise WrongValueError(
            f"is not a text: line {text[: text.index(_ZERO)].count(_NEW) + 1} holds zero bytes",
            "Save it again as plain text in UTF-8.",
        )
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise WrongValueError("is empty", "Restore it, or 'fruitcast new' shows how one looks.")
    head = text.lstrip()[:1000].lower()
    if head.startswith(("<!doctype html", "<html")) or "<html" in head:
        raise WrongValueError(
            "is a web page, not the file itself", "Download the file behind the page."
        )
    return text


def _decoded(data: bytes) -> str:
    mark, encoding = encoding_of(data)
    try:
        return data[len(mark) :].decode(encoding)
    except UnicodeDecodeError:
        raise WrongValueError(
            "is in an encoding that can't be told", "Save it again as plain text in UTF-8."
        ) from None


def encode_like(text: str, before: bytes) -> bytes:
    """Return a changed text as bytes, in the encoding and with the line ends of the file it is of.

    Lines that the change left alone come out as the same bytes, also where the file's line ends are
    of several kinds. Raises WrongValueError if the file's encoding has no sign for a letter of the
    new text.
    """
    mark, encoding = encoding_of(before)
    told = before[len(mark) :].decode(encoding)
    ended = re.findall(r"([^\r\n]*)(\r\n|\n|\r|\Z)", told)
    old, ends = [line for line, _ in ended], [end for _, end in ended]
    if len(old) > 1 and not old[-1] and not ends[-2]:  # the pattern meets the end of the text twice
        old, ends = old[:-1], ends[:-1]
    counted = {end: ends.count(end) for end in ("\n", "\r\n", "\r")}
    usual = max(counted, key=lambda end: counted[end])
    new = text.split("\n")
    new_ends = [usual] * len(new)
    for ours, theirs, count in _same_lines(new, old):
        for step in range(count):
            new_ends[ours + step] = ends[theirs + step] or usual
    new_ends[-1] = ""
    whole = "".join(line + end for line, end in zip(new, new_ends, strict=True))
    try:
        return mark + whole.encode(encoding)
    except UnicodeEncodeError as error:
        raise WrongValueError(
            f"the file is not in UTF-8 and has no sign for {whole[error.start]!r}",
            "Save the file in UTF-8, or write it without that letter.",
        ) from None


def _same_lines(new: list[str], old: list[str]) -> list[tuple[int, int, int]]:
    """Return runs of lines that stand in both, as places in new and old and their number."""
    least = min(len(new), len(old))
    head = next((n for n in range(least) if new[n] != old[n]), least)
    tail = next((n for n in range(least - head) if new[-1 - n] != old[-1 - n]), least - head)
    middle = SequenceMatcher(
        None, new[head : len(new) - tail], old[head : len(old) - tail], autojunk=False
    )
    runs = [(head + b.a, head + b.b, b.size) for b in middle.get_matching_blocks()]
    return [(0, 0, head), *runs, (len(new) - tail, len(old) - tail, tail)]
