"""Strokes that damage a text or its bytes, each a little: cells, columns, lines, keys, encodings.

A stroke is (name, where, what, word); `drawing` chooses them by chance.
"""

from __future__ import annotations

import re
from collections.abc import Callable

CELLS = (
    *("", " ", "0", "1", "-1", "-5", "+5", "1.5", "1,5", "12", "99999", "1e9", "1e308", "1e999"),
    *("nan", "NaN", "inf", "-inf", "None", "null", "TRUE", "NA", "N/A", "-", "--", ".", "..", "T"),
    *("9" * 20, "9" * 400, "9" * 5000, "0." + "0" * 400 + "1", "1.2.3", "1-2", "0x10", "1_000"),
    *("1,234", "1.234,5", "1,234.5", "1 234", "1'234", "1\u00a0234", "1\u202f234", "\u221212"),
    *("#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "=1+1", "=SUM(A1:A9)", "@x"),
    *("1/2", "4 1/2", "4\u00bd", "\u00bd", "1/0", "2-Jan", "02-Jan", "Jan-02", "1. Feb", "12:30"),
    *("2027-05-03", "2027-02-29", "2027-13-01", "2027-5-3", "20270503", "2027-W18-1", "0000-00-00"),
    *("9999-12-31", "0001-01-01", "5/3/2027", "3.5.2027", "13/5/2027", "5/13/27", "3 May 2027"),
    *("46510", "46510.0", "45048", "1", "2027-05-03T00:00:00", "2027-05-03 25:61", "yesterday"),
    *("2027-05-03T12:00:00+00:00", "0001-01-01T00:00:00+23:59", "9999-12-31T23:59:59-23:59"),
    *("Total", "Sum", "Average", "Total:", "Grand total", "A", "B", "A/1", "a", "A B", "*", "#3"),
    *('"', '""', '"""', "'", "'x", "`", "\u201c12\u201d", "\u201812\u2019", "\u00ab12\u00bb"),
    *("\x00", "\x1b[31mred", "\x07", "\x0b", "\x0c", "\x1c", "\x85", "\u2028", "\u202eabc"),
    *("\u0663", "\uff11\uff12", "\u00b2", "\u2460", "\u1d7d9", "\U0001f344", "\u0130", "\u1e9e"),
    *("\u0301", "\ufeff", "\u200b", "\ufffd", "x" * 70, "x" * 3000, "a,b", "a;b", "a\nb", "a\rb"),
    *("A 24 h", "24 h", "2 lb 6 oz", "1 kg", "12 logs", "2 dead", "42 %", "15 mm", "0.6 in"),
    *("soak", "pull", "pick", "undo", "split", "merge", "retire", "weigh", "inspect", "note"),
    *("healthy", "healthy;healthy", "white ends;rot", ";", "observed", "forecast", "filled"),
    *("../../x", "/dev/null", "C:\\x", "{{7*7}}", "<script>", "%s%n", "${HOME}", "';--"),
)
"""What may stand in a cell, a field or among the words of a record."""

TOML_VALUES = (
    *("1", "-1", "0", "1.5", "1e999", "nan", "-inf", "inf", "true", "false", '""', '"x"', "''"),
    *("9" * 18, "9" * 30, "9" * 400, "9" * 5000, "0x7fffffffffffffff", "0b1", "1_000", "1e5"),
    *('"Tue"', '"Funday"', '["Tue", "Tue"]', "[]", "[[]]", "[1, [2, [3]]]", "{}", "{a = {b = 1}}"),
    *("2027-05-03", "2027-05-03T08:00:00", "2027-05-03T08:00:00+25:00", "08:00", "24:00:00"),
    *("2027-02-30", "0001-01-01", "9999-12-31", '"04-15"', '"02-29"', '"13-40"', '"2027-05-03"'),
    *('"America/New_York"', '"Mars/Base"', '"../etc/passwd"', '"UTC"', '"America"', '"\\u0000"'),
    *('"\\ud800"', '"\\U0001F344"', '"a\\nb"', '"""a\nb"""', "'''x'''", '"' + "x" * 3000 + '"'),
    *("[" * 50 + "]" * 50, "[" * 2000 + "]" * 2000, "{a=" * 300 + "1" + "}" * 300, "[", "{", '"'),
    *('"nearest"', '"\\u001b[31m"', '"/dev/null"', '"weather.csv\\u2028"', "12:30:00.5", "+1"),
    *('"us"', '"metric"', '"imperial"', "[{a = 1}, {b = 2}]", "[1, 'a', 2027-05-03]"),
)
"""What may stand behind a key of a TOML file."""

Change = Callable[[str, int, int, str], str]


def _delimiter(text: str) -> str:
    head = text[:300]
    return max(",;\t|", key=head.count)


def _in_row(change: Callable[[list[str], int, str], None]) -> Change:
    """Return a stroke that changes the cells of one row."""

    def stroke(text: str, where: int, what: int, word: str) -> str:
        lines = text.split("\n")
        at, mark = where % len(lines), _delimiter(text)
        cells = lines[at].split(mark)
        change(cells, what, word)
        lines[at] = mark.join(cells)
        return "\n".join(lines)

    return stroke


def _in_column(change: Callable[[list[str], int, str], None]) -> Change:
    """Return a stroke that changes the same place of every row."""

    def stroke(text: str, where: int, what: int, word: str) -> str:
        mark, rows = _delimiter(text), []
        for line in text.split("\n"):
            cells = line.split(mark)
            if len(cells) > 1:
                change(cells, what, word)
            rows.append(mark.join(cells))
        return "\n".join(rows)

    return stroke


def _in_lines(change: Callable[[list[str], int, int, str], None]) -> Change:
    """Return a stroke that changes the order or number of lines."""

    def stroke(text: str, where: int, what: int, word: str) -> str:
        lines = text.split("\n")
        change(lines, where % len(lines), what % len(lines), word)
        return "\n".join(lines)

    return stroke


def _put(cells: list[str], what: int, word: str) -> None:
    cells[what % len(cells)] = word


def _swap_next(cells: list[str], what: int, word: str) -> None:
    here, there = what % len(cells), (what + 1) % len(cells)
    cells[here], cells[there] = cells[there], cells[here]


def _lose(cells: list[str], what: int, word: str) -> None:
    del cells[what % len(cells)]


def _double(cells: list[str], what: int, word: str) -> None:
    cells.insert(what % len(cells), cells[what % len(cells)])


def _quote(cells: list[str], what: int, word: str) -> None:
    at = what % len(cells)
    cells[at] = f'"{cells[at]}{word[:5]}"'


def _append(cells: list[str], what: int, word: str) -> None:
    cells += ["", word[:5]][: 1 + what % 2]


def _behind(cells: list[str], what: int, word: str) -> None:
    cells[what % len(cells)] += word


def _lose_line(lines: list[str], where: int, what: int, word: str) -> None:
    del lines[where]


def _repeat_line(lines: list[str], where: int, what: int, word: str) -> None:
    lines.insert(what, lines[where])


def _new_line(lines: list[str], where: int, what: int, word: str) -> None:
    lines.insert(where, word)


def _join_lines(lines: list[str], where: int, what: int, word: str) -> None:
    lines[where : where + 2] = ["".join(lines[where : where + 2])]


def _exchange_lines(lines: list[str], where: int, what: int, word: str) -> None:
    lines[where], lines[what] = lines[what], lines[where]


def _cut_lines(lines: list[str], where: int, what: int, word: str) -> None:
    del lines[min(where, what) : max(where, what)]


def _value_of_key(text: str, where: int, what: int, word: str) -> str:
    lines = text.split("\n")
    keyed = [n for n, line in enumerate(lines) if "=" in line]
    if keyed:
        at = keyed[where % len(keyed)]
        value = TOML_VALUES[what % len(TOML_VALUES)]
        lines[at] = f"{lines[at].partition('=')[0]}= {value}"
    return "\n".join(lines)


def _key(text: str, where: int, what: int, word: str) -> str:
    lines = text.split("\n")
    at = where % len(lines)
    keys = ("name", "from", "to", "on", "day", "x.y", '""', '"a b"', "[site]", "[[outlet]]", word)
    key = keys[what % len(keys)]
    lines[at] = key if key[:1] == "[" else f"{key} = {lines[at].partition('=')[2] or 1}"
    return "\n".join(lines)


def _other_delimiter(text: str, where: int, what: int, word: str) -> str:
    return text.replace(_delimiter(text), (",", ";", "\t", "|", " ", ", ", "\x1f")[what % 7])


def _decimal_commas(text: str, where: int, what: int, word: str) -> str:
    return re.sub(r"(?<=\d)\.(?=\d)", ",", text)


def _titles_above(text: str, where: int, what: int, word: str) -> str:
    return f"{word}\n" * (1 + what % 3) + text


def _insert(text: str, where: int, what: int, word: str) -> str:
    at = where * 7919 % (len(text) + 1)
    return text[:at] + word + text[at:]


def _cut(text: str, where: int, what: int, word: str) -> str:
    at = where * 7919 % (len(text) + 1)
    return text[:at] + text[at + 1 + what % 40 :]


def _truncate(text: str, where: int, what: int, word: str) -> str:
    return text[: where * 7919 % (len(text) + 1)]


def _repeat(text: str, where: int, what: int, word: str) -> str:
    return text * (2 + what % 20) if len(text) < 20_000 else text


TABLE: dict[str, Change] = {
    "cell": _in_row(_put),
    "cell behind": _in_row(_behind),
    "cells swapped": _in_row(_swap_next),
    "cell lost": _in_row(_lose),
    "cell doubled": _in_row(_double),
    "cell quoted": _in_row(_quote),
    "cells appended": _in_row(_append),
    "column": _in_column(_put),
    "column behind": _in_column(_behind),
    "columns swapped": _in_column(_swap_next),
    "column lost": _in_column(_lose),
    "column doubled": _in_column(_double),
    "delimiter": _other_delimiter,
    "decimal commas": _decimal_commas,
    "titles above": _titles_above,
}
TEXT: dict[str, Change] = {
    "line lost": _in_lines(_lose_line),
    "line repeated": _in_lines(_repeat_line),
    "line new": _in_lines(_new_line),
    "lines joined": _in_lines(_join_lines),
    "lines exchanged": _in_lines(_exchange_lines),
    "lines cut": _in_lines(_cut_lines),
    "inserted": _insert,
    "cut": _cut,
    "truncated": _truncate,
    "repeated": _repeat,
}
TOML: dict[str, Change] = {"value": _value_of_key, "value again": _value_of_key, "key": _key}

_ENCODINGS = (
    "utf-8-sig",
    "utf-16",
    "utf-16-le",
    "utf-16-be",
    "utf-32",
    "cp1252",
    "mac-roman",
    "utf-7",
)
_LINE_ENDS = ("\r", "\r\n", "\n\r", "\u2028", "\x0b", "\r\r\n")


def _byte(data: bytes, where: int, what: int, word: str) -> bytes:
    if not data:
        return bytes([what % 256])
    at = where * 7919 % len(data)
    return data[:at] + bytes([what % 256]) + data[at + 1 :]


def _bit(data: bytes, where: int, what: int, word: str) -> bytes:
    if not data:
        return data
    at = where * 7919 % len(data)
    return data[:at] + bytes([data[at] ^ (1 << what % 8)]) + data[at + 1 :]


def _zeros(data: bytes, where: int, what: int, word: str) -> bytes:
    at = where * 7919 % (len(data) + 1)
    return data[:at] + b"\x00" * (1 + what % 20) + data[at:]


def _encoding(data: bytes, where: int, what: int, word: str) -> bytes:
    text = data.decode("utf-8", errors="replace")
    return text.encode(_ENCODINGS[what % len(_ENCODINGS)], errors="replace")


def _line_ends(data: bytes, where: int, what: int, word: str) -> bytes:
    return data.replace(b"\n", _LINE_ENDS[what % len(_LINE_ENDS)].encode())


def _cut_bytes(data: bytes, where: int, what: int, word: str) -> bytes:
    return data[: where * 7919 % (len(data) + 1)]


BYTES: dict[str, Callable[[bytes, int, int, str], bytes]] = {
    "byte": _byte,
    "bit": _bit,
    "zero bytes": _zeros,
    "encoding": _encoding,
    "line ends": _line_ends,
    "cut short": _cut_bytes,
}
