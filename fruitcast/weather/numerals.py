"""Numbers as people and instruments write them in weather tables."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fruitcast.weather.daily import FloatArray

_PLAIN = frozenset("0123456789.+-eE \n")
_BLANK = frozenset(
    (
        "",
        "-",
        "--",
        "---",
        "na",
        "n/a",
        "nan",
        "null",
        "none",
        "m",
        "missing",
        "nodata",
        "#n/a",
        ".",
    )
)
_SENTINELS = frozenset((-9999.0, -9999.9, -999.0, -999.9, -99.0, -99.9, -99.99, 999.9, 9999.9))
_FRACTION_AS_DATE = re.compile(r"\d{1,2}[-. ]+[A-Za-z]{3}\.?|[A-Za-z]{3}[-. ]+\d{1,2}")
_TRACE = frozenset(("t", "tr", "trace"))


@dataclass(frozen=True)
class Numerals:
    """One column as numbers.

    Attributes
    ----------
    values : (row,) float array
        NaN where the cell is blank or can't be read.
    unreadable : list of int
        Rows whose cell is no number.
    sentinels : int
        Cells with a number that stands for 'missing', such as -9999.
    """

    values: FloatArray
    unreadable: list[int]
    sentinels: int


def parse_numbers(
    cells: Sequence[str], *, decimal_comma: bool = False, traces: bool = False
) -> Numerals:
    """Return a column of cells as numbers.

    Parameters
    ----------
    decimal_comma : bool
        Whether the decimal mark is a comma.
    traces : bool
        Whether 'T' (a trace of rain, too little to measure) may stand for 0.
    """
    if decimal_comma:
        cells = [cell.replace(",", ".") for cell in cells]
    unreadable: list[int] = []
    if _PLAIN.issuperset("\n".join(cells)):
        try:
            values = np.array([float(cell) if cell else np.nan for cell in cells], dtype=float)
        except ValueError:
            values, unreadable = _one_by_one(cells, traces)
    else:
        values, unreadable = _one_by_one(cells, traces)
    sentinels = 0
    if len(values) and np.nanmax(np.abs(values), initial=0.0) >= 99.0:
        missing = np.isin(values, list(_SENTINELS))
        sentinels = int(missing.sum())
        values[missing] = np.nan
    infinite = np.isinf(values)
    if infinite.any():
        unreadable += np.flatnonzero(infinite).tolist()
        values[infinite] = np.nan
    return Numerals(values, unreadable, sentinels)


def reason_unreadable(cell: str) -> str:
    """Return what a cell most likely is that should be a number, as the end of a sentence."""
    word = cell.strip()
    if word.startswith("#"):
        return ", but what a spreadsheet writes for a formula that failed"
    if _FRACTION_AS_DATE.fullmatch(word):
        return "; a spreadsheet may have taken a fraction or a decimal for a date"
    return ""


def _one_by_one(cells: Sequence[str], traces: bool) -> tuple[FloatArray, list[int]]:
    values = np.full(len(cells), np.nan)
    unreadable: list[int] = []
    for row, cell in enumerate(cells):
        word = cell.strip().lower().replace("\u2212", "-")
        if word in _BLANK:
            continue
        if traces and word in _TRACE:
            values[row] = 0.0
            continue
        try:
            if not _PLAIN.issuperset(word):
                raise ValueError
            values[row] = float(word)
        except ValueError:
            unreadable.append(row)
    return values, unreadable
