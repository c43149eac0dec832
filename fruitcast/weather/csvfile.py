"""Writing daily weather as our own CSV: date,tmin,tmax,rain in C and mm, and more where known."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from fruitcast.atomic import write_atomically
from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.weather.rawtable import derive_mean

_WORDS = {
    Source.MISSING: "",
    Source.OBSERVED: "observed",
    Source.FILLED: "filled",
    Source.FORECAST: "forecast",
}


def write_weather_csv(weather: DailyWeather, path: Path) -> None:
    """Write a weather table so that `read_weather_file` gives the same table back.

    The mean temperature is written only where it is more than the middle of lowest and highest,
    humidity only where there is any, and the sources only when not everything is observed. The
    line that the data's licence asks for goes to the top. The file is written whole or not at all.

    Raises
    ------
    OutputError
        If the file can't be written.
    """
    write_atomically(path, weather_csv(weather).encode())


def weather_csv(weather: DailyWeather) -> str:
    """Return a weather table as the text of our own CSV."""
    names = ["tmin", "tmax", "rain"]
    if not _mean_is_middle(weather):
        names.append("tmean")
    if np.isfinite(weather.rh).any():
        names.append("rh")
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    columns = {"date": days.astype(str).tolist()}
    for name in names:
        columns[name] = ["" if v != v else repr(v) for v in weather.values[name].tolist()]
    columns |= _source_columns(weather, names)
    lines = [",".join(columns)]
    lines += [",".join(cells) for cells in zip(*columns.values(), strict=True)]
    if weather.attribution:
        lines.insert(0, f"# attribution: {' '.join(weather.attribution.split())}")
    return "\n".join(lines) + "\n"


def _mean_is_middle(weather: DailyWeather) -> bool:
    """Return whether reading lowest and highest alone gives the mean back, value and source."""
    values = {**weather.values, "tmean": np.full(weather.days, np.nan)}
    sources = {**weather.sources, "tmean": np.zeros(weather.days, dtype=np.int8)}
    derive_mean(values, sources)
    return np.array_equal(values["tmean"], weather.tmean, equal_nan=True) and np.array_equal(
        sources["tmean"], weather.sources["tmean"]
    )


def _source_columns(weather: DailyWeather, names: list[str]) -> dict[str, list[str]]:
    """Return one column of sources where every row has but one, else one for each variable."""
    codes = np.stack([weather.sources[name] for name in names])
    highest = codes.max(axis=0)
    lowest = np.where(codes == Source.MISSING, highest, codes).min(axis=0)
    if np.array_equal(highest, lowest):
        if (highest <= Source.OBSERVED).all():
            return {}
        return {"source": [_WORDS[Source(code)] for code in highest.tolist()]}
    return {
        f"{name}_source": [_WORDS[Source(code)] for code in weather.sources[name].tolist()]
        for name in names
    }
