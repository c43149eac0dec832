"""What is drawn is what the plan, the diary and the weather say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.container import BarContainer
from matplotlib.patches import Rectangle

from fruitcast.diary.plan import Sale
from fruitcast.hindcast.scores import PolicySeason
from fruitcast.inoculation.answers import Season
from fruitcast.outputs.plots import (
    INK,
    STRAW,
    figure,
    number,
    plot_moisture,
    plot_supply,
    show_days,
    svg_text,
)
from fruitcast.outputs.plots_compared import plot_logs, plot_policies, plot_programme
from fruitcast.outputs.plots_season import _FILLS, plot_season
from fruitcast.outputs.plots_weather import plot_rain, plot_temperature
from fruitcast.outputs.report_data import (
    MoistureCourse,
    Span,
    Strip,
    StripRow,
    StripSoak,
    WeatherCourse,
)
from fruitcast.outputs.report_parts import Courses, ReportData
from fruitcast.topics import StrainRange
from fruitcast.units import KG_PER_LB

MONDAY = date(2027, 5, 3)


@pytest.fixture
def ax() -> Axes:
    return figure(3.5, 2.5)[1]


def bars(ax: Axes, label: str) -> list[tuple[float, float, float, float]]:
    """Return left, bottom, width and height of the bars of one name."""
    found = [c for c in ax.containers if c.get_label() == label and isinstance(c, BarContainer)]
    assert len(found) == 1, [c.get_label() for c in ax.containers]
    return [(p.get_x(), p.get_y(), p.get_width(), p.get_height()) for p in found[0].patches]


def line(ax: Axes, label: str) -> tuple[np.ndarray, np.ndarray]:
    found = [entry for entry in ax.lines if entry.get_label() == label]
    assert len(found) == 1
    return np.asarray(found[0].get_xdata()), np.asarray(found[0].get_ydata())


def luminance(color: Any) -> float:
    """Return how light a colour is, by the formula of WCAG 2 for relative luminance."""
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(color)]
    return float(np.dot(parts, (0.2126, 0.7152, 0.0722)))


def sale(on: str, target: float, promise: float, low: float, high: float) -> Sale:
    return Sale(
        outlet="Stall",
        on=date.fromisoformat(on),
        target_kg=target,
        promise_kg=promise,
        delivered_kg=0.9 * target,
        available_p10_kg=low,
        available_p90_kg=high,
        chance=0.5,
    )


# --- supply --------------------------------------------------------------------------------------


def test_supply_shows_wanted_likely_and_promised_of_every_sale_in_pounds(ax):
    sales = [sale("2027-05-15", 4.0, 1.0, 0.5, 3.0), sale("2027-05-22", 2.0, 2.0, 2.5, 50.0)]
    plot_supply(sales, "us", ax)
    middle = [number(date(2027, 5, 15)) + 0.5, number(date(2027, 5, 22)) + 0.5]
    for name, kg in (
        ("wanted", (4.0, 2.0)),
        ("likely on average", (3.6, 1.8)),
        ("can be promised", (1.0, 2.0)),
    ):
        drawn = bars(ax, name)
        assert [x + w / 2 for x, _, w, _ in drawn] == pytest.approx(middle)
        assert [high for *_, high in drawn] == pytest.approx([v / KG_PER_LB for v in kg])
        assert {low for _, low, _, _ in drawn} == {0}
    assert ax.get_ylim()[0] == 0 and ax.get_ylim()[1] > 4.0 / KG_PER_LB


def test_supply_is_told_apart_by_width_and_by_lightness_too(ax):
    """Each column is narrower than the one that it lies in, and darker.

    Lightness by the formula of WCAG 2; those who can't tell colours apart see it all the same.
    """
    plot_supply([sale("2027-05-15", 4.0, 1.0, 0.5, 3.0)], "metric", ax)
    drawn = [c.patches[0] for c in ax.containers]
    widths = [patch.get_width() for patch in drawn]
    assert widths[0] < 7 and all(b < 0.75 * a for a, b in pairwise(widths))
    assert all(a.get_zorder() <= b.get_zorder() for a, b in pairwise(drawn))
    bright = [luminance(patch.get_facecolor()) for patch in drawn]
    assert all((a + 0.05) / (b + 0.05) > 1.5 for a, b in pairwise(bright))


def test_supply_that_nobody_wants_can_be_drawn(ax):
    plot_supply([sale("2027-05-15", 0.0, 0.0, 0.0, 1.0)], "metric", ax)
    assert ax.get_ylim()[1] > 0


def test_the_sample_yards_supply_is_its_plans(data: ReportData, ax):
    sales = [entry for entry in data.plan.outlets if entry.outlet == "Village shop"]
    plot_supply(sales, "metric", ax)
    assert [high for *_, high in bars(ax, "can be promised")] == [
        entry.promise_kg for entry in sales
    ]


# --- the season ----------------------------------------------------------------------------------


def strip(*rows: StripRow) -> Strip:
    away = ((date(2027, 5, 20), date(2027, 5, 22)),)
    return Strip(date(2027, 4, 5), MONDAY, date(2027, 8, 1), rows, away)


def row(**changes: Any) -> StripRow:
    return replace(StripRow("A", "wide-range", (), None, (), (), ()), **changes)


def test_spans_soaks_and_windows_stand_on_their_days(ax):
    window = date(2027, 5, 12), date(2027, 5, 14), date(2027, 5, 18)
    soak = StripSoak(date(2027, 5, 4), date(2027, 5, 6), False, window, 2.0)
    rest = Span("rest", date(2027, 5, 6), date(2027, 7, 6))
    plot_season(strip(row(), row(soaks=(soak,), spans=(rest,))), ax)
    for label, first, days in (
        ("rest", date(2027, 5, 6), 61),
        ("soak", date(2027, 5, 4), 2),
        ("first pick", date(2027, 5, 12), 7),
    ):
        (left, bottom, wide, high), *others = bars(ax, label)
        assert not others
        assert (left, wide) == (number(first), days)
        assert 0.5 < bottom < bottom + high < 1.5  # on the second row
    (likely,) = [entry for entry in ax.lines if entry.get_color() == "white"]
    assert list(likely.get_xdata()) == [number(date(2027, 5, 14)) + 0.5]


def test_a_natural_flush_stands_on_its_own_lane_as_high_as_its_chance(ax):
    weeks = ((MONDAY, 0.25), (MONDAY + timedelta(days=7), 1.0))
    plot_season(strip(row(natural=weeks)), ax)
    drawn = bars(ax, "natural flush")
    assert [left for left, *_ in drawn] == [number(day) for day, _ in weeks]
    assert {wide for _, _, wide, _ in drawn} == {7}
    assert drawn[0][3] / drawn[1][3] == pytest.approx(0.25)
    # Both stand on one floor above the next lane, the sure one below the soaks and picks.
    (floor,) = {round(below + high, 9) for _, below, _, high in drawn}
    assert drawn[1][1] > 0 and floor < 0.5


@pytest.mark.parametrize(("width", "expected"), [(3.5, []), (7.3, ["24%", "95%"])])
def test_a_broad_strip_says_the_highest_chance_of_every_run_in_figures(width, expected):
    weeks = [(MONDAY, 0.10), (MONDAY + timedelta(days=7), 0.24)]
    weeks += [(MONDAY + timedelta(days=days), 0.95) for days in (35, 42)]
    ax = figure(width, 2.5)[1]
    plot_season(strip(row(natural=tuple(weeks))), ax)
    said = [text for text in ax.texts if text.get_text().endswith("%")]
    assert [text.get_text() for text in said] == expected
    days = [text.get_position()[0] - number(MONDAY) for text in said]
    # Over the middle of the week; behind the last week of the run that leaves no room above.
    assert not said or (days[0] == 10.5 and days[1] > 49)


def test_the_key_shows_chances_as_high_as_they_stand_on_the_strip(data: ReportData, courses):
    fig, ax = figure(7.3, 4.0, (0.9, 0.3, 0.3, 0.7))
    plot_season(courses.strip, ax)
    FigureCanvasAgg(fig).draw()
    legend = ax.get_legend()
    assert legend is not None
    key = [p for p in legend.findobj(Rectangle) if to_rgb(p.get_facecolor()) == to_rgb(STRAW)]
    in_key = sorted(p.get_window_extent().height for p in key)
    chances = [chance for r in courses.strip.rows for _, chance in r.natural]
    (found,) = [c for c in ax.containers if c.get_label() == "natural flush"]
    for patch, chance in zip(found.patches, chances, strict=True):
        assert patch.get_window_extent().height == pytest.approx(chance * in_key[-1], rel=0.01)
    assert in_key == pytest.approx([in_key[-1] * share for share in (0.1, 0.5, 1.0)])


def test_every_lane_has_its_stack_its_class_and_the_rest_thinner_and_lighter_than_picks(ax):
    window = date(2027, 5, 12), date(2027, 5, 14), date(2027, 5, 18)
    soak = StripSoak(date(2027, 5, 4), date(2027, 5, 6), False, window, 2.0)
    rest = Span("rest", date(2027, 5, 6), date(2027, 7, 6))
    cold = row(stack="B", strain_class="cold-weather", soaks=(soak,), spans=(rest,))
    ax = figure(7.3, 2.5)[1]
    plot_season(strip(row(), cold), ax)
    assert [label.get_text() for label in ax.get_yticklabels()] == ["A", "B"]
    beside = {text.get_text(): text.xy[1] for text in ax.texts if hasattr(text, "xy")}
    assert -0.5 < beside["wide-range"] < 0.5 < beside["cold-weather"] < 1.5
    assert -0.5 < beside["A"] < 0.5 < beside["B"] < 1.5
    ((*_, thin),), ((*_, thick),) = bars(ax, "rest"), bars(ax, "first pick")
    assert thin < thick / 2
    by_name = {c.get_label(): c.patches[0].get_facecolor() for c in ax.containers}
    assert luminance(by_name["rest"]) > 10 * luminance(by_name["first pick"])
    # In grey too a soak differs from both its neighbours by a contrast of 2 or more.
    rested, soaked, picked = (0.05 + luminance(by_name[n]) for n in ("rest", "soak", "first pick"))
    assert rested / soaked > 2 and soaked / picked > 2


def test_the_range_of_a_spawn_run_ends_where_the_strip_does(ax):
    run = Span("spawn run", date(2027, 4, 5), date(2027, 7, 1))
    plot_season(strip(row(spans=(run,), ready=(date(2027, 6, 1), date(2027, 7, 1), None))), ax)
    ends = [entry for entry in ax.lines if entry.get_marker() == "|" and entry.get_color() == INK]
    assert list(ends[0].get_xdata()) == [number(date(2027, 6, 1)), number(date(2027, 8, 1)) + 1]


def test_today_and_days_away_are_marked(ax):
    plot_season(strip(row()), ax)
    assert any(list(entry.get_xdata()) == [number(MONDAY)] * 2 for entry in ax.lines)
    (away,) = [patch for patch in ax.patches if patch.get_label() == "away"]
    assert away.get_x() == number(date(2027, 5, 20)) and away.get_width() == 3


def test_the_sample_yards_strip_is_its_plan(data: ReportData, courses: Courses, ax):
    plot_season(courses.strip, ax)
    planned = sorted(number(s.soak_on) for s in data.plan.soaks)
    drawn = sorted(left for left, *_ in bars(ax, "soak"))
    done = [s for r in courses.strip.rows for s in r.soaks if s.done]
    assert len(drawn) == len(planned) + len(done) and set(planned) <= set(drawn)
    names = [label.get_text() for label in ax.get_yticklabels()]
    assert names == list(data.state.stacks)


def test_no_two_fills_of_the_strip_are_alike_without_colour():
    seen = set()
    for kind, (face, hatch) in _FILLS.items():
        grey = round(np.dot(to_rgb(face), (0.2126, 0.7152, 0.0722)), 1)
        assert (grey, hatch) not in seen, kind
        seen.add((grey, hatch))


# --- moisture ------------------------------------------------------------------------------------


def course(**changes: Any) -> MoistureCourse:
    first = MONDAY - timedelta(days=28)
    base = MoistureCourse(
        "A", first, MONDAY, np.linspace(0.45, 0.36, 28), (), (), (), (), None, 0.35, 0.23
    )
    return replace(base, **changes)


def test_moisture_is_drawn_in_per_cent_with_its_marks(ax):
    day = MONDAY - timedelta(days=5)
    plot_moisture(
        course(
            watered=((day, 12.0),),
            assumed=((day - timedelta(days=9), 12.0),),
            soaked=(day - timedelta(days=3),),
            weighed=((day, 0.41),),
        ),
        ax,
    )
    x, y = line(ax, "moisture")
    assert len(x) == 28 and x[-1] == number(MONDAY) - 0.5
    assert (y[0], y[-1]) == pytest.approx((45, 36))
    for label, when in (("watered", 5), ("assumed", 14), ("soaked", 8), ("weighed", 5)):
        assert line(ax, label)[0] == pytest.approx([number(MONDAY) - when + 0.5])
    assert line(ax, "weighed")[1] == pytest.approx([41])
    levels = [entry.get_ydata()[0] for entry in ax.lines if len(set(entry.get_ydata())) == 1]
    assert {35.0, 23.0} <= {round(float(level), 6) for level in levels}
    assert ax.get_title("left") == "A: 36%"


def test_assumed_and_recorded_waterings_differ_in_shape_not_colour(ax):
    marks = ((MONDAY - timedelta(days=5), 12.0),)
    plot_moisture(course(watered=marks, assumed=marks), ax)
    faces = {
        entry.get_label(): entry.get_markerfacecolor()
        for entry in ax.lines
        if entry.get_label() in ("watered", "assumed")
    }
    assert faces["assumed"] == "white" != faces["watered"]


@pytest.mark.parametrize("wet", [np.full(28, 0.12), np.full(28, 0.78), np.full(28, np.nan)])
def test_very_dry_wet_and_unknown_logs_stay_inside_the_axis(ax, wet):
    plot_moisture(course(wet=wet, keep_above=None), ax)
    low, high = ax.get_ylim()
    known = 100 * wet[np.isfinite(wet)]
    assert ((known > low) & (known < high)).all()


# --- weather -------------------------------------------------------------------------------------


def weather(**changes: Any) -> WeatherCourse:
    base = WeatherCourse(
        MONDAY - timedelta(days=14),
        MONDAY,
        np.arange(14.0),
        np.zeros(14, dtype=bool),
        np.array([[5.0, 6.0], [10.0, 12.0], [15.0, 18.0]]),
        np.array([25.4, 50.8]),
        np.array([[0.0, 12.7], [25.4, 25.4], [50.8, 76.2]]),
        0,
        20,
    )
    return replace(base, **changes)


RANGES = {"cold-weather": StrainRange(5, 10, 13, 19), "wide-range": StrainRange(10, 15, 21, 25)}


def test_temperatures_are_in_the_yards_unit_and_the_ranges_stand_beside(ax):
    plot_temperature(weather(), RANGES, "us", ax)
    assert line(ax, "observed")[1] == pytest.approx(32 + 1.8 * np.arange(14.0))
    assert line(ax, "middle year")[1] == pytest.approx([50.0, 53.6])
    (side,) = ax.child_axes
    drawn = [(p.get_y(), p.get_height()) for p in side.patches]
    assert drawn[:2] == [pytest.approx((41, 25.2)), pytest.approx((50, 5.4))]
    names = [label.get_text() for label in side.get_xticklabels()]
    assert names == ["cold", "wide"]
    assert side.get_ylim() == ax.get_ylim()


def test_forecast_and_filled_days_are_told_apart_from_observed_ones(ax):
    filled = np.zeros(14, dtype=bool)
    filled[3] = True
    plot_temperature(
        weather(tmean=np.arange(16.0), filled=filled, forecast_days=2), RANGES, "metric", ax
    )
    x, y = line(ax, "forecast")
    assert list(x) == [number(MONDAY) + 0.5, number(MONDAY) + 1.5] and list(y) == [14, 15]
    assert list(line(ax, "filled in")[1]) == [3]
    assert list(line(ax, "observed")[1]) == list(range(14))


def test_rain_of_each_week_and_the_range_of_the_coming_ones(ax):
    plot_rain(weather(), "us", ax)
    assert [high for *_, high in bars(ax, "fallen")] == pytest.approx([1.0, 2.0])
    coming = bars(ax, "8 of 10 of 20 years")
    assert [(low, high) for _, low, _, high in coming] == [
        pytest.approx((0, 2.0)),
        pytest.approx((0.5, 2.5)),
    ]
    assert line(ax, "middle year")[1] == pytest.approx([1.0, 1.0])


def test_the_sample_yards_weeks_are_those_of_its_weather(data: ReportData, courses: Courses):
    found, known = courses.weather, data.weather
    last = slice(known.index(data.today) - 7, known.index(data.today))
    assert found.rain[-1] == pytest.approx(known.rain[last].sum())
    assert found.tmean[-7:] == pytest.approx(known.tmean[last])
    futures = data.outlook.futures
    week = slice(futures.lookback + 7, futures.lookback + 14)
    means = futures.tmean[week].mean(axis=0)
    assert found.fan_tmean[:, 1] == pytest.approx(np.quantile(means, (0.1, 0.5, 0.9)))
    assert found.last == data.today + timedelta(days=7 * data.plan.weeks - 1)


# --- axis and file -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "names"),
    [
        (182, ["May", "Jun", "Jul", "Aug", "Sep", "Oct"]),
        (20, ["May"]),
        (720, ["Jul", "Oct", "Jan", "Apr", "Jul", "Oct", "Jan"]),
        (5 * 365, ["2028", "2029", "2030", "2031"]),
    ],
)
def test_the_axis_names_as_many_months_or_years_as_fit(ax, days, names):
    show_days(ax, MONDAY, MONDAY + timedelta(days=days - 1))
    shown = [label.get_text() for label in ax.get_xticklabels()]
    assert [name for name in names if name in shown] == names
    assert len(shown) <= 10
    places = ax.get_xticks()
    assert (np.diff(places) >= days / 9 - 1).all()


def test_a_figure_is_the_same_bytes_again_and_stands_alone():
    def draw(name: str) -> str:
        fig, ax = figure(3, 2)
        ax.bar([1, 2], [3, 4], hatch="///")
        ax.set_title("a < b & \\$c$ <script>", parse_math=False)
        return svg_text(fig, name, 'quo"te')

    first = draw("one")
    assert first == draw("one")
    assert "<script>" not in first and "&lt;script&gt;" in first
    assert 'aria-label="quo&quot;te"' in first
    for unwanted in ("<style", "<metadata", "http://www.w3.org/1999/xhtml", "<?xml", "<!DOCTYPE"):
        assert unwanted not in first
    assert 'id="one-' in first and 'id="two-' in draw("two")


# --- years side by side --------------------------------------------------------------------------


def test_policies_are_compared_by_the_share_they_left_unmet(ax):
    seasons = [
        PolicySeason(
            year=year,
            policy=policy,
            demand_kg=10.0,
            shortfall_kg=short,
            expired_kg=0.0,
            soaks=1,
            logs_soaked=20,
            visits=2,
        )
        for year, policy, short in (
            (2024, "plan", 1.0),
            (2025, "plan", 3.0),
            (2024, "rotation", 4.0),
            (2025, "rotation", 5.0),
        )
    ]
    plot_policies(seasons, ax)
    assert [wide for _, _, wide, _ in bars(ax, "mean")] == pytest.approx([0.2, 0.45])
    assert list(line(ax, "2025")[0]) == pytest.approx([0.3, 0.5])
    assert [label.get_text() for label in ax.get_yticklabels()] == ["plan", "rotation"]
    marks = {entry.get_marker() for entry in ax.lines}
    assert len(marks) == 2


def test_a_programme_is_drawn_season_by_season(ax):
    made = [(2027, 20, 100, 35, 60, 50), (2028, 10, 110, 10, 70, 45)]
    seasons = [
        Season(
            year=year,
            inoculated_logs=inoculated,
            bearing_logs=bearing,
            spawn_run_logs=idle,
            leaving_logs=3,
            target_kg=target,
            picked_kg=60.0,
            sold_kg=sold,
            sold_p10_kg=40.0,
            sold_p90_kg=55.0,
            chance=0.8,
        )
        for year, inoculated, bearing, idle, target, sold in made
    ]
    plot_programme(seasons, "us", ax)
    assert [high for *_, high in bars(ax, "sold, mean")] == pytest.approx(
        [50 / KG_PER_LB, 45 / KG_PER_LB]
    )
    ticks = plot_programme(seasons, "us", figure(3, 2)[1], southern=True).get_xticklabels()
    assert [tick.get_text() for tick in ticks] == [
        f"{year}/{(year + 1) % 100:02d}" for year, *_ in made
    ]
    logs = plot_logs(seasons, figure(3, 2)[1])
    stacked = {
        label: [(low, high) for _, low, _, high in bars(logs, label)]
        for label in ("bearing", "in the spawn run", "inoculated this season")
    }
    assert stacked["bearing"] == [(0, 100), (0, 110)]
    assert stacked["in the spawn run"] == [(100, 15), (110, 0)]
    assert stacked["inoculated this season"] == [(115, 20), (110, 10)]
