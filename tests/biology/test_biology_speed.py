"""How long the biology takes, and that its cost is linear in columns."""

from time import perf_counter

import numpy as np
import pytest

from tests.biology.invented_weather import weather
from tests.biology.test_limits import whole_biology


@pytest.mark.benchmark
def test_time_by_columns():
    seconds = {}
    for columns in (300, 3_000, 30_000):
        sky = weather(400, columns, 2)
        runs = []
        for _ in range(3):
            begun = perf_counter()
            whole_biology("wide-range", sky)
            runs.append(perf_counter() - begun)
        seconds[columns] = min(runs)
        print(f"biology, 400 days x {columns} columns: {seconds[columns]:.3f} s")
    per_column = np.array([s / c for c, s in seconds.items()])
    assert seconds[3_000] < 1.0
    assert per_column.max() / per_column.min() < 3
