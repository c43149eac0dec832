"""What a weather file says about where its values come from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from fruitcast.tables.faultlist import FaultList, quoted
from fruitcast.weather.daily import VARIABLES, Source

FORECAST_PROVIDERS = frozenset(("dwd_mosmix", "metno_forecast"))
"""Meteostat's providers whose values are forecasts. A label may name several providers."""

_WORDS = {
    "observed": Source.OBSERVED,
    "": Source.OBSERVED,
    "filled": Source.FILLED,
    "forecast": Source.FORECAST,
}


def source_of_label(label: str) -> Source:
    """Return the source that a label of one value tells: a forecast if any of its words does."""
    words = label.lower().split()
    if "forecast" in words or not FORECAST_PROVIDERS.isdisjoint(words):
        return Source.FORECAST
    return Source.FILLED if "filled" in words else Source.OBSERVED


def parse_sources(
    columns: Mapping[str, Sequence[str]], lines: Sequence[int], faults: FaultList
) -> dict[str, npt.NDArray[np.int8]]:
    """Return the source codes of each variable that the file tells them for.

    A column 'source' speaks for the whole row and knows the words observed, filled and forecast;
    a column such as 'rain_source' for one variable, in our words or in the names of providers.
    """
    found: dict[str, npt.NDArray[np.int8]] = {}
    if "source" in columns:
        of_word = {cell: _WORDS.get(cell.strip().lower()) for cell in set(columns["source"])}
        for row, cell in enumerate(columns["source"]):
            if of_word[cell] is None:
                faults.add(
                    "sources",
                    f"source {quoted(cell)} is not a word we know",
                    "Write observed, filled or forecast, or leave it empty",
                    line=lines[row],
                )
        codes = np.array([of_word[c] or Source.OBSERVED for c in columns["source"]], dtype=np.int8)
        found = dict.fromkeys(VARIABLES, codes)
    for name in VARIABLES:
        cells = columns.get(f"{name}_source")
        if cells is not None:
            of_label = {label: source_of_label(label) for label in set(cells)}
            found[name] = np.array([of_label[cell] for cell in cells], dtype=np.int8)
    return found
