"""What yards can spare and sell together, against ledgers and paths walked one by one."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from fruitcast.app.choosing import choose
from fruitcast.app.group import make_round
from fruitcast.group.joint_sales import (
    SharedSale,
    Spare,
    fair_shares,
    fill_ins,
    sell_jointly,
    spare_between,
    take,
    with_shared,
)
from fruitcast.group.settings import read_group
from fruitcast.hindcast.diary import sell
from fruitcast.soaks.problem import OutletDay, Problem
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.supply import CheckDays, allocate, check_days
from tests.cli.running import TODAY, change, contents, done, run
from tests.cli.test_cli_schema import faults, schema
from tests.group.conftest import few_yards
from tests.hindcast.small_yard import small_yard

DAY = date.fromisoformat(TODAY)
GROUP = """
name = "Valley growers"
units = "metric"

[[outlet]]
name = "Mill restaurant"
day = "Thu"
target_kg = 3
from = "05-20"
to = "06-30"

[[order]]
outlet = "Harvest supper"
on = 2027-06-12
target_kg = 4

[[closed]]
outlet = "Mill restaurant"
on = 2027-06-03
"""


# --- what one yard can spare ---------------------------------------------------------------------


class Case:
    """Random picks and sales of one yard; the shared sales stand behind its own of their day."""

    def __init__(self, seed: int) -> None:
        draw = np.random.default_rng(seed)
        self.days, self.cold = 40, int(draw.integers(2, 12))
        own = [
            OutletDay(f"own {n}", int(draw.integers(0, 38)), float(draw.uniform(0.2, 3)), 1.0)
            for n in range(int(draw.integers(0, 8)))
        ]
        shared = sorted(int(day) for day in draw.choice(38, int(draw.integers(1, 6)), False))
        added = [OutletDay(f"shared {n}", day, 0.0, 0.0) for n, day in enumerate(shared)]
        self.sales = sorted([*own, *added], key=lambda s: (s.day, -s.weight, s.outlet))
        self.shared = [n for n, sale in enumerate(self.sales) if sale.weight == 0.0]
        self.picks = [
            (int(draw.integers(-3, 38)), float(draw.uniform(0, 2)))
            for _ in range(int(draw.integers(3, 15)))
        ]
        self.draw = draw

    def checks(self) -> CheckDays:
        problem = object.__new__(Problem)
        object.__setattr__(problem, "outlets", tuple(self.sales))
        object.__setattr__(problem, "cold_days", self.cold)
        object.__setattr__(problem, "weeks", 4)
        object.__setattr__(problem, "tail_days", self.days - 28)
        return check_days(problem)

    def picked(self, checks: CheckDays) -> np.ndarray:
        total = [sum(kg for day, kg in self.picks if day <= check) for check in checks.days]
        return np.array(total)[:, None]

    def sold(self, taken: list[float]) -> tuple[list[float], list[float]]:
        """Walk the cold store batch by batch; return what own and shared sales get."""
        sales = list(self.sales)
        for at, kg in zip(self.shared, taken, strict=True):
            sales[at] = replace(sales[at], target=kg)
        got = sell(self.picks, sales, self.cold, self.days).delivered
        mine = [kg for n, kg in enumerate(got) if n not in self.shared]
        return mine, [got[n] for n in self.shared]


@pytest.mark.parametrize("seed", range(60))
def test_what_is_spared_is_there_and_takes_nothing_from_own_sales(seed):
    case = Case(seed)
    checks = case.checks()
    floor, ceiling = spare_between(case.picked(checks), checks, case.shared)
    alone, _ = case.sold([0.0] * len(case.shared))
    taken, gone = [], 0.0
    for low, high in zip(floor[:, 0], ceiling[:, 0], strict=True):
        gone = max(gone, low)
        part = case.draw.choice([0.0, 0.5, 1.0])
        taken.append(float(part * max(high - gone, 0.0)))
        gone += taken[-1]
    own, shared = case.sold(taken)
    assert own == pytest.approx(alone, abs=1e-9)
    assert shared == pytest.approx(taken, abs=1e-9)


@pytest.mark.parametrize("seed", range(60))
def test_no_more_could_be_spared(seed):
    """One gram more at any one sale is not there, or an own sale goes short of it."""
    case = Case(seed)
    checks = case.checks()
    floor, ceiling = spare_between(case.picked(checks), checks, case.shared)
    alone, _ = case.sold([0.0] * len(case.shared))
    for number in range(len(case.shared)):
        taken = [0.0] * len(case.shared)
        taken[number] = float(ceiling[number, 0] - floor[number, 0]) + 0.001
        own, shared = case.sold(taken)
        assert shared[number] < taken[number] - 1e-6 or sum(own) < sum(alone) - 1e-6


def test_one_more_soak_leaves_all_others_and_own_sales_as_they_were():
    known = small_yard(5, 12)
    built, plan, _ = choose(known, weeks=12)
    own = [replace(sale, target=sale.target / 3) for sale in built.problem.outlets]
    days = [known.today + timedelta(days=n) for n in (20, 34, 48)]
    shared = [SharedSale("Mill", on, 3.0) for on in days]
    # A plan with its first soaks taken out has room for more.
    bare = tuple(path[1:] for path in plan)
    problem, at = with_shared(built.problem, own, shared)
    found = fill_ins(problem, bare, at)
    assert any(found)
    tables = SearchTables.of(problem)
    index = {stack.name: n for n, stack in enumerate(problem.stacks)}
    for number, one in enumerate(found):
        if one is None:
            continue
        soak = list(problem.soak_days).index((one.soak_on - problem.today).days)
        n = index[one.stack]
        path = tuple(sorted({*bare[n], soak}))
        assert len(path) == len(bare[n]) + 1 and tables.allows(n, path)
        other = (*bare[:n], path, *bare[n + 1 :])
        sold = [
            allocate(tables.total(p), tables.checks).delivered.sum(axis=0).mean()
            for p in (bare, other)
        ]
        assert sold[1] >= sold[0] - 0.051
        spare = [
            (lambda band: (band[1] - band[0])[number].mean())(
                spare_between(tables.total(p), tables.checks, at)
            )
            for p in (bare, other)
        ]
        assert spare[1] - spare[0] == pytest.approx(one.kg)


# --- what all have together ----------------------------------------------------------------------


def spare(years, rises, draws, promise=0.8) -> Spare:
    """A yard whose spare weight rises by so much before each sale; nothing grows old."""
    count = len(years) * draws
    top = np.cumsum(np.asarray(rises, dtype=float).reshape(-1, count), axis=0)
    return Spare(
        years=tuple(years),
        promise=promise,
        floor=tuple((0.0,) * count for _ in top),
        ceiling=tuple(tuple(row) for row in top.tolist()),
        fill_in=(None,) * len(top),
    )


def some_group(seed: int):
    draw = np.random.default_rng(seed)
    sales = [
        SharedSale("Mill", DAY + timedelta(days=7 * n), float(draw.uniform(1, 9)))
        for n in range(int(draw.integers(1, 4)))
    ]
    spares = {}
    for n in range(int(draw.integers(1, 5))):
        years = [2000 + y for y in range(12) if y < 6 or draw.random() < 0.6]
        draws = int(draw.integers(2, 5))
        rises = draw.uniform(0, 4, (len(sales), draws * len(years)))
        spares[f"yard {n}"] = spare(years, rises, draws, float(draw.choice([0.6, 0.8])))
    return spares, sales


@pytest.mark.parametrize("seed", range(40))
def test_chances_are_those_of_paths_walked_one_by_one(seed):
    """Each path by itself in plain loops: one weather year for all, each yard's own luck."""
    spares, sales = some_group(seed)
    found = sell_jointly(spares, sales, 0.8)
    years = sorted(set.intersection(*(set(s.years) for s in spares.values())))
    draws = min(len(s.floor[0]) // len(s.years) for s in spares.values())
    assert found.weather_years == len(years)
    shares = [{o.yard: o.share_kg for o in sale.offers} for sale in found.sales]
    met = np.zeros(len(sales))
    mean = np.zeros(len(sales))
    for again in range(draws):
        for year in years:
            left = dict.fromkeys(spares, 0.0)
            for n, sale in enumerate(sales):
                has = {}
                for name, one in spares.items():
                    column = again * len(one.years) + one.years.index(year)
                    before = one.ceiling[n - 1][column] if n else 0.0
                    left[name] += one.ceiling[n][column] - before
                    has[name] = left[name]
                total = sum(has.values())
                met[n] += total >= sale.target - 0.001
                mean[n] += min(total, sale.target)
                first = {name: min(has[name], shares[n][name]) for name in has}
                missing = max(sale.target - sum(first.values()), 0.0)
                spared = sum(has[name] - first[name] for name in has)
                for name in has:
                    more = (
                        (has[name] - first[name]) / spared * min(missing, spared) if spared else 0
                    )
                    left[name] -= first[name] + more
    paths = draws * len(years)
    assert [sale.chance for sale in found.sales] == pytest.approx(list(met / paths))
    assert [sale.expected_kg for sale in found.sales] == pytest.approx(list(mean / paths))
    for sale in found.sales:
        offered = sum(one.offer_kg for one in sale.offers)
        assert sum(one.share_kg for one in sale.offers) == pytest.approx(
            min(offered, sale.target_kg)
        )
        assert sale.promise_kg + sale.missing_kg == pytest.approx(sale.target_kg)
        assert all(one.share_kg <= one.offer_kg + 1e-9 for one in sale.offers)


def test_a_wet_year_is_wet_for_all():
    """Five yards that bear in the same years fill an order as often as one does, not oftener."""
    years = list(range(2000, 2020))
    wet = np.array([5.0 if year % 2 else 0.0 for year in years])
    spares = {f"yard {n}": spare(years, np.tile(wet, 4), 4) for n in range(5)}
    # One of them has its years in another order, and some more of them.
    spares["yard 4"] = spare([1999, *reversed(years)], np.tile([9.0, *wet[::-1]], 4), 4)
    [sale] = sell_jointly(spares, [SharedSale("Mill", DAY, 20.0)], 0.8).sales
    assert sale.chance == 0.5 and sale.promise_kg == 0.0
    # Yards that bear in turn fill it always.
    for n in range(4):
        rises = 10.0 - 2 * wet if n % 2 else 2 * wet
        spares[f"yard {n}"] = spare(years, np.tile(rises, 4), 4)
    [other] = sell_jointly(spares, [SharedSale("Mill", DAY, 20.0)], 0.8).sales
    assert other.chance == 1.0 and other.promise_kg == 20.0


def test_shares_go_by_offers_and_add_up():
    assert fair_shares([6.0, 3.0, 1.0], 5.0) == pytest.approx([3.0, 1.5, 0.5])
    assert fair_shares([2.0, 1.0], 5.0) == [2.0, 1.0]
    assert fair_shares([0.0, 0.0], 5.0) == [0.0, 0.0]
    draw = np.random.default_rng(3)
    for _ in range(50):
        has = draw.uniform(0, 4, (3, 20)) * (draw.random((3, 20)) < 0.7)
        target, offers = float(draw.uniform(1, 8)), draw.uniform(0, 3, 3)
        taken = take(has, np.array(fair_shares(list(offers), target)), target)
        assert (taken <= has + 1e-9).all() and (taken >= 0).all()
        assert taken.sum(axis=0) == pytest.approx(np.minimum(has.sum(axis=0), target))


def test_yards_without_years_in_common_are_told():
    spares = {"a": spare([2000, 2001, 2002], np.ones(6), 2), "b": spare([2002], np.ones(2), 2)}
    found = sell_jointly(spares, [SharedSale("Mill", DAY, 2.0)], 0.8, ["c"])
    assert found.sales == () and "1 years in common" in found.note and found.left_out == ("c",)


# --- a whole group -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def group(tmp_path_factory) -> Path:
    """Three small yards with stacks and outlets of their own names, selling together."""
    folder = few_yards(tmp_path_factory.mktemp("group") / "valley")
    for yard in sorted(folder.iterdir()):
        rename(yard)
    (folder / "group.toml").write_text(GROUP, encoding="utf-8")
    return folder


def rename(yard: Path) -> None:
    rows = (yard / "stacks.csv").read_text(encoding="utf-8").splitlines()
    named = [rows[0], *(f"{yard.name[:3].upper()}-{row}" for row in rows[1:])]
    (yard / "stacks.csv").write_text("\n".join(named) + "\n", encoding="utf-8")
    text = (yard / "yard.toml").read_text(encoding="utf-8")
    for outlet in ("Saturday market", "Village shop", "Spring supper"):
        text = text.replace(outlet, f"{yard.name} {outlet}")
    # They want little by themselves, so that something is left over.
    text = re.sub(r"target_lb = \d+", "target_lb = 0.5", text)
    (yard / "yard.toml").write_text(text, encoding="utf-8")


def test_a_group_sells_together_and_tells_nothing_but_offers(group):
    before = {n: d for n, d in contents(group).items() if not n.startswith("out/")}
    ran = done("yards", group, "--today", TODAY, "--json", "--processes", 1)
    assert faults(schema("yards"), ran.document) == []
    together = ran.document["together"]
    on = [(sale["outlet"], sale["on"]) for sale in together["sales"]]
    thursdays = ["2027-05-20", "2027-05-27", "2027-06-10", "2027-06-17", "2027-06-24"]
    assert sorted(on) == sorted(
        [("Harvest supper", "2027-06-12"), *(("Mill restaurant", day) for day in thursdays)]
    )
    assert any(one["offer_kg"] > 0 for sale in together["sales"] for one in sale["offers"])
    assert {n: d for n, d in contents(group).items() if not n.startswith("out/")} == before
    out = {name: data.decode() for name, data in contents(group / "out").items()}
    assert json.loads(out["together.json"]) == together
    yards = ("ash", "beech", "cherry")
    private = {
        y: [f"{y[:3].upper()}-", f"{y} Saturday", f"{y} Village", f"{y} Spring"] for y in yards
    }
    for name in ("together.json", "together.html"):
        assert all(yard in out[name] for yard in yards)
        assert not [word for words in private.values() for word in words if word in out[name]]
    for yard in yards:
        for name in (f"members/{yard}.txt", f"kept/{yard}.json"):
            others = [other for other in yards if other != yard]
            told = [w for other in others for w in (other, *private[other]) if w in out[name]]
            assert told == [], (name, told)
    keys = {key for sale in together["sales"] for one in sale["offers"] for key in one}
    assert keys == {"yard", "offer_kg", "share_kg", "soak_by", "more_kg"}


@pytest.mark.long  # the sales are put together in the first process; see `test_round.py`
def test_in_two_processes_joint_sales_are_the_same_to_the_letter(group, tmp_path):
    make_round(group, DAY, processes=1)
    (group / "out").rename(tmp_path / "one")
    make_round(group, DAY, processes=2)
    assert contents(group / "out") == contents(tmp_path / "one")


def test_selling_together_moves_nobodys_soaks(group):
    with_it = make_round(group, DAY, processes=1).document
    aside = group / "group.toml"
    text = aside.read_text(encoding="utf-8")
    aside.unlink()
    try:
        without = make_round(group, DAY, processes=1).document
    finally:
        aside.write_text(text, encoding="utf-8")
    assert without.together is None and without.yards == with_it.yards
    assert not list((group / "out").glob("together.*"))


def test_a_sale_that_is_short_says_who_could_fill_in(group):
    change(group / "group.toml", 'to = "06-30"', 'to = "10-15"')
    made = make_round(group, DAY, processes=1)
    small = [sale for sale in made.document.together.sales if sale.outlet == "Mill restaurant"]
    change(group / "group.toml", "target_kg = 3", "target_kg = 300")
    try:
        large = make_round(group, DAY, processes=1).document.together.sales
    finally:
        change(group / "group.toml", "target_kg = 300", "target_kg = 3")
        change(group / "group.toml", 'to = "10-15"', 'to = "06-30"')
    large = [sale for sale in large if sale.outlet == "Mill restaurant"]
    assert large[0].chance == 0.0 and large[0].missing_kg > small[0].missing_kg
    asked = [one for sale in large for one in sale.offers if one.soak_by]
    assert asked and all(one.more_kg > 0 and one.soak_by >= DAY for one in asked)


def test_a_yard_that_cannot_be_planned_is_left_out_by_name(group, tmp_path):
    (group / "cherry" / "weather.csv").rename(tmp_path / "weather.csv")
    try:
        ran = run("yards", group, "--today", TODAY, "--processes", 1)
        told = json.loads((group / "out" / "together.json").read_text())
        sheets = sorted(file.stem for file in (group / "out" / "members").iterdir())
    finally:
        (tmp_path / "weather.csv").rename(group / "cherry" / "weather.csv")
    assert ran.code == 1 and "Not reckoned with: cherry." in ran.out
    assert told["yards"] == ["ash", "beech"] and told["left_out"] == ["cherry"]
    assert sheets == ["ash", "beech"]


def test_every_fault_of_a_group_is_told_at_once(tmp_path):
    (tmp_path / "group.toml").write_text(
        'promise = 1.5\n[[yard]]\nfolder = "a"\n[[yard]]\nfolder = "x/a"\n'
        '[[outlet]]\nname = "Mill"\nday = "Someday"\nprice_per_kg = 4\n'
        '[[order]]\noutlet = "Feast"\non = "soon"\ntarget_kg = 2\ntarget_lb = 4\n'
        '[[closed]]\noutlet = "Mil"\non = 2027-06-01\n[site]\nlatitude = 4\n',
        encoding="utf-8",
    )
    ran = run("yards", tmp_path)
    assert ran.code == 1 and not ran.out
    for words in (
        "group.toml [site]: this table is not known",
        "group.toml promise: 1.5",
        "group.toml [[yard]] 'x/a' folder: another yard's folder is called 'a'",
        "group.toml [[outlet]] 'Mill' day: 'Someday'",
        "group.toml [[outlet]] 'Mill' price_per_kg: this key is not known here",
        "group.toml [[outlet]] 'Mill': has no target",
        "group.toml [[order]] 'Feast' on: 'soon'",
        "group.toml [[order]] 'Feast': gives both target_kg and target_lb",
        "Did you mean 'Mill'?",
    ):
        assert words in ran.err, ran.err


def test_a_group_is_read_with_its_units_and_days(tmp_path):
    few = few_yards(tmp_path / "few", "ash")
    (few / "group.toml").write_text(
        'units = "us"\n[[yard]]\nfolder = "ash"\n[[outlet]]\nname = "Mill"\nday = "thu"\n'
        'target_lb = 10\nfrom = "05-20"\nto = "06-30"\n',
        encoding="utf-8",
    )
    group = read_group(few)
    [outlet] = group.outlets
    assert (group.name, group.units, group.promise, group.yards) == (
        "few",
        "us",
        0.8,
        (few / "ash",),
    )
    assert outlet.target_kg == pytest.approx(4.5359237) and outlet.weekday == 3
    assert outlet.sells_on(date(2027, 5, 20)) and not outlet.sells_on(date(2027, 7, 1))
