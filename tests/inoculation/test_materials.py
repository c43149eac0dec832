"""What a batch takes, worked by hand, and that no number at the end of its range breaks it."""

from math import pi

import pytest

from fruitcast.biology.wood import fresh_mass
from fruitcast.inoculation.materials import materials, sawdust_per_hole, stack_floor
from fruitcast.inoculation.problem import LogKind
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()


def takes(spawn="plug", tool="drill", logs=100, holes=50, **options):
    kind = LogKind("wide-range", "red oak", 0.127, 1.016, spawn)
    return materials(kind, logs, holes, tool, NUMBERS.inoculation, **options)


def test_an_oak_log_of_5_by_40_inches_weighs_about_13_kg():
    # Weight from density and volume; about 13 kg for 12.7 x 102 cm oak.
    for tree in ("red oak", "white oak", "oak"):
        kg = float(fresh_mass(0.127, 1.02, NUMBERS.tree(tree).density))
        assert 12.5 <= kg <= 13.5


def test_bits_and_depths_are_those_of_common_practice():
    # Plugs 8 mm, 25-38 mm deep; sawdust 11-12 mm, 25 mm; trial standard 12 mm, 25 mm (ASHS).
    bit, depth = NUMBERS.inoculation.hole("plug")
    assert bit == 0.008 and 0.025 <= depth <= 0.038
    assert NUMBERS.inoculation.hole("sawdust") == (0.012, 0.025)


def test_a_hundred_logs_worked_by_hand():
    plug = takes("plug")
    assert plug.holes == 5000
    assert plug.pieces == 5250  # five in a hundred to spare
    assert plug.sawdust_kg == 0
    assert plug.wax_kg == pytest.approx(3.0)  # 0.6 g a hole
    assert plug.drilling_hours == pytest.approx(5000 * 5 / 3600)
    assert plug.filling_hours == pytest.approx(5000 * 4 / 3600)
    assert plug.waxing_hours == pytest.approx(5000 * 2.5 / 3600)
    assert plug.handling_hours == pytest.approx(100 * 120 / 3600)
    assert plug.trees == 17
    assert plug.hours == pytest.approx(
        plug.drilling_hours + plug.filling_hours + plug.waxing_hours + plug.handling_hours
    )


def test_sawdust_is_the_volume_of_the_holes():
    one = sawdust_per_hole(0.012, 0.025, sawdust_density=NUMBERS.inoculation.sawdust_density)
    assert one == pytest.approx(pi / 4 * 1.2**2 * 2.5 * 0.5e-3)  # cm3 at half a gram each
    assert takes("sawdust").sawdust_kg == pytest.approx(5000 * one * 1.15)
    assert takes("sawdust").pieces == 0


def test_a_grinder_is_quicker_thimbles_need_no_wax_and_ends_take_more():
    assert takes(tool="grinder").drilling_hours < takes().drilling_hours
    thimble = takes("thimble")
    assert thimble.wax_kg == 0 and thimble.waxing_hours == 0
    ends = takes(seal_ends=True).wax_kg - takes().wax_kg
    assert ends == pytest.approx(200 * pi / 4 * 0.127**2 * 0.5)


def test_stacks_stand_on_squares_as_long_as_a_log():
    # 12.7 cm logs with 3 cm of air: six a layer of a metre, seven layers to a metre high.
    assert stack_floor(
        42,
        0.127,
        1.0,
        stack_height=NUMBERS.inoculation.stack_height,
        stack_gap=NUMBERS.inoculation.stack_gap,
    ) == pytest.approx(1.0)
    assert stack_floor(
        43,
        0.127,
        1.0,
        stack_height=NUMBERS.inoculation.stack_height,
        stack_gap=NUMBERS.inoculation.stack_gap,
    ) == pytest.approx(2.0)
    # Seven of 10 cm a layer, and ten layers fill the metre exactly; longer logs, larger squares.
    assert stack_floor(
        70,
        0.1,
        1.0,
        stack_height=NUMBERS.inoculation.stack_height,
        stack_gap=NUMBERS.inoculation.stack_gap,
    ) == pytest.approx(1.0)
    assert stack_floor(
        71,
        0.1,
        1.0,
        stack_height=NUMBERS.inoculation.stack_height,
        stack_gap=NUMBERS.inoculation.stack_gap,
    ) == pytest.approx(2.0)
    assert stack_floor(
        1,
        0.1,
        2.0,
        stack_height=NUMBERS.inoculation.stack_height,
        stack_gap=NUMBERS.inoculation.stack_gap,
    ) == pytest.approx(4.0)
    # A log thicker than it is long and higher than a stack still has its place.
    assert stack_floor(
        3,
        1.2,
        0.5,
        stack_height=NUMBERS.inoculation.stack_height,
        stack_gap=NUMBERS.inoculation.stack_gap,
    ) == pytest.approx(3 * 0.25)


def test_trees_and_spare_spawn_are_whole_and_no_more_than_it_takes():
    # Six logs a tree; twenty holes and five in a hundred are twenty-one plugs.
    assert [takes(logs=logs).trees for logs in (1, 6, 7, 12)] == [1, 1, 2, 2]
    assert [takes(logs=1, holes=holes).pieces for holes in (20, 21, 1)] == [21, 23, 2]


@pytest.mark.parametrize("end", ["low", "high"])
@pytest.mark.parametrize("spawn", ["plug", "thimble", "sawdust"])
def test_numbers_at_the_ends_of_their_ranges_break_nothing(end, spawn):
    numbers = NUMBERS.with_overrides(
        {n.key: getattr(n, end) for n in NUMBERS.entries() if n.key.startswith("inoculation.")}
    )
    kind = LogKind("wide-range", "red oak", 0.127, 1.0, spawn)
    found = materials(kind, 7, 33, "grinder", numbers.inoculation, seal_ends=True)
    assert found.holes == 231
    assert min(found.wax_kg, found.hours, found.floor_m2, found.sawdust_kg + found.pieces) >= 0
    assert found.trees >= 1
