"""Invented weather for property tests and timings: no place on earth."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Sky:
    """(day, column) arrays; moisture on a dry basis."""

    tmin: np.ndarray
    tmax: np.ndarray
    tmean: np.ndarray
    rain: np.ndarray
    moisture: np.ndarray

    def columns(self, chosen):
        return Sky(
            self.tmin[:, chosen],
            self.tmax[:, chosen],
            self.tmean[:, chosen],
            self.rain[:, chosen],
            self.moisture[:, chosen],
        )


def weather(days: int, columns: int, seed: int, extreme: float = 4.0) -> Sky:
    """A year's wave with noise (its spread is `extreme`), showers, slowly changing moisture."""
    rng = np.random.default_rng(seed)
    wave = 11 - 13 * np.cos(2 * np.pi * (np.arange(days)[:, None] + rng.integers(365)) / 365)
    tmean = wave + extreme * rng.standard_normal((days, columns))
    half = 2 + 8 * rng.random((days, columns))
    rain = np.where(rng.random((days, columns)) < 0.25, rng.gamma(0.8, 10, (days, columns)), 0.0)
    moisture = 0.3 + 0.5 * rng.random((days, columns))
    return Sky(tmean - half, tmean + half, tmean, rain, moisture)
