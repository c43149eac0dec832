"""One year of one station as Meteostat's bulk files hold it.

A file is CSV, packed with gzip: the columns year, month, day, then one for each variable and one,
named with `_source` behind it, for the provider or providers that each value comes from.
"""

from __future__ import annotations

import gzip
import io
import zlib

import numpy as np
import pandas as pd

from fruitcast.weather.rawtable import PLAUSIBLE

MOST_BYTES = 5_000_000
"""Longest year read, unpacked; a real one has some 30,000. [byte]"""

MOST_TITLES = 5_000
"""Longest line of titles; a real one has some 200. [byte]"""

_PARTS = ["year", "month", "day"]
_GZIP = b"\x1f\x8b"
_OURS = {"temp": "tmean", "tmin": "tmin", "tmax": "tmax", "rhum": "rh", "prcp": "rain"}


class BadPayloadError(ValueError):
    """What a server sent is not a year of daily weather; the message says what it is."""


def parse_year(content: bytes) -> pd.DataFrame:
    """Return the values of one file by day and source, as Meteostat's own providers give them.

    Raises
    ------
    BadPayloadError
        If the bytes are a web page, a broken archive, or a table of another shape.
    """
    if content.startswith(_GZIP):
        try:
            with gzip.open(io.BytesIO(content)) as archive:
                content = archive.read(MOST_BYTES + 1)
        except (OSError, EOFError, zlib.error) as error:
            raise BadPayloadError("a broken archive, perhaps cut short on the way") from error
    if len(content) > MOST_BYTES:
        raise BadPayloadError("far more than a year of daily weather")
    head = content[:500].lstrip().lower()
    if head.startswith(b"<"):
        raise BadPayloadError("a web page, perhaps the log-in page of a network")
    titles = content.lstrip().partition(b"\n")[0]
    if not head.startswith(b"year,month,day,") or len(titles) > MOST_TITLES:
        raise BadPayloadError("no daily weather table")
    try:
        table = pd.read_csv(io.BytesIO(content), skipinitialspace=True)
        table["time"] = pd.to_datetime(table[_PARTS])
        return _by_source(table)
    except (ValueError, TypeError, KeyError, ArithmeticError) as error:
        raise BadPayloadError("a daily weather table that can't be read") from error


def _by_source(table: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each day and source label, with each value in its source's row."""
    days = table["time"]
    if days.isna().any() or days.duplicated().any():
        raise ValueError("days are missing or told twice")
    pieces = []
    for name in _OURS:
        if name not in table:
            continue
        values = pd.to_numeric(table[name]).to_numpy(dtype=float, na_value=np.nan)
        low, high = PLAUSIBLE[_OURS[name]]
        # What cannot be true is missing: it is then filled, and told, like any other gap.
        with np.errstate(invalid="ignore"):
            known = (values >= low) & (values <= high)
        labels = table.get(f"{name}_source")
        if labels is None:
            labels = pd.Series("unknown", index=table.index)
        source = labels.astype("string").fillna("unknown")[known]
        index = pd.MultiIndex.from_arrays([days[known], source], names=["time", "source"])
        pieces.append(pd.Series(values[known], index=index, name=name))
    if not pieces:
        raise KeyError("no variable is known")
    return pd.concat(pieces, axis=1).sort_index()
