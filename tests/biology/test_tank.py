"""When an open tank is likely to carry ice."""

import numpy as np

from fruitcast.biology.forced import is_frozen
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()


def test_a_tank_freezes_when_the_mean_of_some_days_is_below_the_limit():
    days, limit = int(NUMBERS.doubt.ice_days), NUMBERS.doubt.ice_below
    tmean = np.full((4 * days, 2), limit)
    assert not is_frozen(tmean, NUMBERS.doubt).any()  # just at the limit it does not
    # One colder day counts as long as it is among the last days looked at.
    tmean[days, 1] = limit - 1.0
    found = is_frozen(tmean, NUMBERS.doubt)
    assert not found[:, 0].any()
    assert np.flatnonzero(found[:, 1]).tolist() == list(range(days, 2 * days))
