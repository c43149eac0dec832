"""A programme simulated forward over thirty weather members by other means than its own."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.inoculation.programme import available_kinds, season_shape
from tests.inoculation.forward_walk import settled_season
from tests.inoculation.yards import NUMBERS, long_weather, programme, sample_yard

pytestmark = pytest.mark.long  # a programme of two years on thirty members

MEMBERS = 30


@cache
def long_season():
    """A slightly warmer place that sells from April to November and may soak as long."""
    yard = sample_yard()
    outlets = tuple(replace(o, first=(4, 20), last=(11, 15)) for o in yard.outlets)
    soaking = replace(yard.soaking, first=(3, 15), last=(11, 5))
    yard = replace(yard, outlets=outlets, soaking=soaking, away=(), orders=())
    kinds = [kind for kind in available_kinds(yard) if kind.wood == 0]
    return programme(yard, long_weather(0.5), kinds, years=2, chance=0.75)


def test_the_promised_chance_holds_within_ten_points_over_thirty_members():
    made = long_season()
    season = made.steady_season
    mine = [n for n, sale in enumerate(made.model.sales) if sale.season == season]
    promised = float(made.brought.met[mine].mean())
    met, picked = settled_season(made, MEMBERS, NUMBERS)
    expected = made.brought.picked[season].mean()
    print(
        f"promised {made.chance:.0%} in all and {promised:.0%} in the settled season; walked "
        f"{met:.0%} over {MEMBERS} members; {expected:.0f} and {picked.mean():.0f} kg picked"
    )
    assert len({year % 10_000 for year in made.climate.seasons.years}) >= MEMBERS
    assert abs(met - promised) <= 0.10
    assert abs(met - made.chance) <= 0.10
    assert picked.mean() == pytest.approx(expected, rel=0.05)
    assert picked.std() == pytest.approx(made.brought.picked[season].std(), rel=0.4)


def test_classes_share_out_the_season_by_themselves():
    # Cold-weather for spring and late autumn, warm-weather for midsummer, wide-range between.
    picked = {name: np.zeros(52) for name in ("cold-weather", "wide-range", "warm-weather")}
    made = long_season()
    begins = season_grid_start(made.climate.now, made.climate.where)
    for entry in season_shape(made):
        picked[entry.strain_class][(entry.week - begins).days // 7] = entry.picked_kg
    total = sum(picked.values())
    for name, kg in picked.items():
        print(f"{name:13}", *(f"{x:3.0f}" for x in 100 * kg / np.maximum(total, 1e-9)))

    def share(name, weeks):
        return picked[name][weeks].sum() / total[weeks].sum()

    spring, autumn = np.arange(16, 19), np.arange(43, 47)  # late April; from late October on
    midsummer = np.arange(26, 35)  # July and August
    between = np.r_[20:24, 37:41]  # late May and early June; September
    assert share("cold-weather", spring) > 0.4 and share("cold-weather", autumn) > 0.4
    assert share("cold-weather", midsummer) < 0.02
    assert share("warm-weather", midsummer) > 0.5
    assert share("warm-weather", np.r_[spring, autumn]) < 0.1
    assert share("wide-range", between) > max(
        share(name, between) for name in ("cold-weather", "warm-weather")
    )
