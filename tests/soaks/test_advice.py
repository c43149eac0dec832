"""What is worth trying or knowing: cold water, the grower's own rest."""

from datetime import time

import numpy as np
import pytest

from fruitcast.biology.yields import rest_factor
from fruitcast.numbers import default_numbers
from fruitcast.soaks.lot_size import LotProposal, advice_words, to_part
from fruitcast.yard.model import Soaking

NUMBERS = default_numbers()


def advice(water=None, rest_days=None, units="metric"):
    numbers = NUMBERS
    if rest_days is not None:
        numbers = NUMBERS.with_overrides({"schedule.rest_days": rest_days})
    soaking = Soaking((1, 4), 60, time(8), None, None, None, rest_days=rest_days, water=water)
    return advice_words(None, soaking, units, numbers.yields)


@pytest.mark.parametrize(
    ("stacks", "said"),
    [(1, ""), (2, "1 more stack bears too much"), (3, "2 more stacks bear too much")],
)
def test_lots_are_proposed_in_whole_sentences(stacks, said):
    proposed = tuple(to_part(name, 40, 6.0, 2) for name in "ABC"[:stacks])
    soaking = Soaking((1, 4), 60, time(8), None, None, None)
    lots = LotProposal(proposed, 3.0)
    (words,) = advice_words(lots, soaking, "metric", default_numbers().yields)
    assert words.startswith("One flush of A brings about 6.0 kg within a few days, and in a usual")
    assert "your outlets take 3.0 kg." in words and said in words


def test_nothing_is_said_where_nothing_was_told():
    assert advice() == ()
    assert advice(rest_days=63) == ()  # the published nine weeks


@pytest.mark.parametrize(
    ("water", "told"),
    [
        ("spring", "fill the tank fresh"),
        ("well", "Well water may be"),
        ("pond", "summer pond water is warmer"),
    ],
)
def test_cold_water_is_praised_without_a_size_of_its_effect(water, told):
    # 10 to 12 C raised yield: Bruhn & Mihail 2009, Bioresource Technology 100(23):5973-5978.
    (words,) = advice(water)
    assert "10 °C to 12 °C" in words and told in words
    assert "nobody can say" in words and "%" not in words
    assert "50 °F to 54 °F" in advice(water, units="us")[0]


@pytest.mark.parametrize(
    ("rest_days", "weight", "often"),
    [(49, "lighter", "29% more"), (56, "lighter", "12% more"), (84, "heavier", "25% fewer")],
)
def test_a_rest_of_the_grower_s_own_tells_what_it_does_to_a_flush(rest_days, weight, often):
    (words,) = advice(rest_days=rest_days)
    # By hand: rest counts from the first pick, nine days after the soak on the usual cycle.
    none, recovery = NUMBERS.yields.rest_none, NUMBERS.yields.rest_time
    share = (1 - np.exp(-(rest_days - 9 - none) / recovery)) / (1 - np.exp(-(54 - none) / recovery))
    assert float(rest_factor(rest_days - 9, NUMBERS.yields)) == pytest.approx(share)
    assert f"{abs(share - 1):.0%} {weight}" in words
    assert f"there can be {often} of them" in words
