"""Plots: what all share, supply against what an outlet wants, the moisture of a stack.

Every plot is a function that takes `ax=None` and returns the axes. Nothing is told by colour
alone: fills differ in lightness and in width or hatch, marks in shape, and each is named in a key.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, timedelta
from functools import wraps
from html import escape
from io import StringIO
from typing import Any, ParamSpec, TypeVar

import numpy as np
from matplotlib import rcParams
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from fruitcast.diary.plan import Sale
from fruitcast.outputs.report_data import MoistureCourse
from fruitcast.units import UNIT_OF_WEIGHT, Units
from fruitcast.words import MONTHS, clean_line

INK, SOFT, PALE, GRASS, EARTH, STRAW, SKY = (
    "#14120d",
    "#5b5547",
    "#ece7da",
    "#17472d",
    "#7a3310",
    "#c9b37a",
    "#5b97c4",
)
"""Colours of all plots, each of another lightness where two lie side by side."""

STYLE: Any = {
    "font.family": ["sans-serif"],
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 8.0,
    "axes.titlesize": 9.0,
    "axes.labelsize": 8.0,
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "legend.fontsize": 7.5,
    "legend.frameon": False,
    "legend.handlelength": 1.6,
    "legend.borderaxespad": 0.0,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "text.color": INK,
    "text.parse_math": False,
    "text.usetex": False,
    "hatch.linewidth": 0.6,
    "lines.linewidth": 1.2,
    "figure.facecolor": "white",
    "axes.facecolor": "white",
    "figure.dpi": 96.0,
    "svg.fonttype": "none",
}

NARROW = 3.5
"""Width that a phone shows in its own size. [inch]"""
WIDE = 7.3
"""Width between the margins of A4 and letter paper. [inch]"""

_NAMES_AT_MOST = 9
"""A name of a month needs this part of the axis: one in so many."""

_NAME_LETTERS = 12

_MONTH_STEPS = (1, 2, 3, 6, 12)

P = ParamSpec("P")
R = TypeVar("R")


def in_style(plot: Callable[P, R]) -> Callable[P, R]:
    """Return a plot function that draws in our style whatever is set outside."""

    @wraps(plot)
    def styled(*args: P.args, **kwargs: P.kwargs) -> R:
        with _settings(STYLE):
            return plot(*args, **kwargs)

    return styled


@contextmanager
def _settings(wanted: Any) -> Iterator[None]:
    """Change settings for a while, and these alone.

    matplotlib's own `rc_context` would also take back what a notebook's backend sets when it is
    loaded inside, and then no further figure would show.
    """
    before: Any = {name: rcParams[name] for name in wanted}
    rcParams.update(wanted)
    try:
        yield
    finally:
        rcParams.update(before)


def axes_of(ax: Axes | None, height: float = 2.4) -> Axes:
    """Return the axes given, or those of a new figure of pyplot, as a notebook shows it."""
    if ax is not None:
        return ax
    from matplotlib import pyplot

    return pyplot.subplots(figsize=(1.6 * NARROW, 1.6 * height), layout="constrained")[1]


@in_style
def figure(
    width: float, height: float, margins: tuple[float, float, float, float] | None = None
) -> tuple[Figure, Axes]:
    """Return a figure outside pyplot, for a file, with its axes.

    All in inches. Margins, the room left, below, right and above, are otherwise what labels and key
    turn out to need, which takes a while longer.
    """
    if margins is None:
        fig = Figure((width, height), layout="constrained")
        return fig, fig.add_subplot()
    fig = Figure((width, height))
    left, below, right, above = margins
    room = (width - left - right) / width, (height - below - above) / height
    return fig, fig.add_axes((left / width, below / height, *room))


def number(day: date) -> int:
    """Return where a day begins on an axis of days."""
    return day.toordinal()


def show_days(ax: Axes, first: date, last: date, *, mondays: bool = True) -> None:
    """Make the horizontal axis one of days, both ends shown: months or years named."""
    left, right = number(first), number(last) + 1
    room = (right - left) / _NAMES_AT_MOST
    step = next((step for step in _MONTH_STEPS if 28 * step >= room), _MONTH_STEPS[-1])
    places, names = [], []
    begin = first
    while begin <= last:
        end = _after(begin, step)
        if min(number(end), right) - number(begin) >= room:
            places.append(number(begin))
            names.append(str(begin.year) if step == 12 else MONTHS[begin.month - 1])
        begin = end
    ax.set_xlim(left, right)
    ax.set_xticks(places, names, ha="left")
    if step == 1 and mondays:
        monday = left + (-first.weekday()) % 7
        ax.set_xticks(range(monday, right, 7), minor=True)
    ax.tick_params(axis="x", which="major", length=6, width=1.0, pad=1)
    ax.tick_params(axis="x", which="minor", length=2.5)


def _after(day: date, step: int) -> date:
    """Return the first day of the next month that is named."""
    months = 12 * day.year + day.month - 1
    months += step - months % step
    return date(months // 12, months % 12 + 1, 1)


def short_name(name: str) -> str:
    """Return a name that fits beside or above an axis."""
    name = clean_line(name)
    return name if len(name) <= _NAME_LETTERS else f"{name[: _NAME_LETTERS - 1]}…"


def say_unit(ax: Axes, unit: str) -> None:
    """Write the unit of the upright axis beside it."""
    ax.set_ylabel(unit, rotation=0, ha="right", va="center")


def key_above(ax: Axes, columns: int, **spacing: float) -> None:
    """Put the key above the axes."""
    ax.legend(ncols=columns, loc="lower left", bbox_to_anchor=(0, 1.0), borderpad=0.4, **spacing)


def mark_today(ax: Axes, today: date, words: str = "today") -> None:
    """Draw where today begins."""
    ax.axvline(number(today), color=INK, linewidth=0.9, linestyle=(0, (1, 1.5)), zorder=1.5)
    if words:
        say_above(ax, number(today), words)


def say_above(ax: Axes, x: float, words: str) -> None:
    """Write something above the axes, where a place of them is."""
    ax.annotate(
        words,
        (x, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(0, 1),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=7.0,
    )


# The figure as a part of a page ------------------------------------------------------------------

_PROLOG = re.compile(r"^.*?(?=<svg\b)", re.DOTALL)
_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
_STYLE = re.compile(r"\s*<style\b.*?</style>", re.DOTALL)
_OPEN = re.compile(r"<svg\b[^>]*>", re.DOTALL)
_VIEW = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')
_ID = re.compile(r' id="([^"]*)"')
_REFERENCE = re.compile(r'(url\(#|href="#)([^)"]*)')
_NUMBERS = re.compile(r'( (?:d|x|y|transform)=")([^"]*)"')
_LONG = re.compile(r"-?\d+\.\d{3,}")
_COMMENT = re.compile(r"\s*<!--.*?-->", re.DOTALL)
_NO_TURN = re.compile(r' transform="rotate\(-0 [^"]*"')
_FONT = re.compile(r" font-family: [^;\"]*;")
_BETWEEN = re.compile(r">\s+<")
_GROUP = re.compile(r"</?g\b[^>]*>")


@in_style
def svg_text(fig: Figure, name: str, title: str) -> str:
    """Return a figure as SVG to stand inside HTML: same figure, same bytes.

    `name`, letters and digits, begins every identifier inside, so that figures don't mix on a page;
    `title` says what it shows, for those who can't see it.
    """
    out = StringIO()
    nothing = {"Date": None, "Creator": None, "Format": None, "Type": None}
    with warnings.catch_warnings(), _settings({"svg.hashsalt": name}):
        # The reader's own fonts write the letters; ours only measures.
        warnings.filterwarnings("ignore", "Glyph .* missing from")
        # Not savefig, which draws everything twice.
        FigureCanvasSVG(fig).print_svg(out, metadata=nothing)
    text = out.getvalue()
    for unwanted in (_PROLOG, _METADATA, _STYLE, _COMMENT):
        text = unwanted.sub("", text)
    wide, high = (float(found) for found in _VIEW.search(text).groups())  # type: ignore[union-attr]
    used = {found[2] for found in _REFERENCE.finditer(text)}
    text = _ID.sub(lambda m: f' id="{name}-{m[1]}"' if m[1] in used else "", text)
    text = _REFERENCE.sub(lambda m: f"{m[1]}{name}-{m[2]}", text)
    text = _NUMBERS.sub(lambda m: f'{m[1]}{_LONG.sub(_shorter, m[2])}"', text)
    for unwanted in (_NO_TURN, _FONT):
        text = unwanted.sub("", text)
    text = _without_plain_groups(_BETWEEN.sub("><", text))
    label = escape(title)
    opened = (
        f'<svg class="plot" viewBox="0 0 {wide:g} {high:g}" role="img" aria-label="{label}" '
        f'style="max-width:{wide / 72:.2f}in" xmlns="http://www.w3.org/2000/svg" '
        'xmlns:xlink="http://www.w3.org/1999/xlink">'
    )
    return _OPEN.sub(lambda _: opened, text, count=1)


def _without_plain_groups(text: str) -> str:
    """Return SVG without the groups that only hold things together."""
    kept: list[bool] = []

    def choose(found: re.Match[str]) -> str:
        if found[0].endswith("/>"):
            return ""
        if not found[0].startswith("</"):
            kept.append(found[0] != "<g>")
            return found[0] if kept[-1] else ""
        return found[0] if kept.pop() else ""

    return _GROUP.sub(choose, text)


def _shorter(found: re.Match[str]) -> str:
    return f"{float(found[0]):.2f}".rstrip("0").rstrip(".")


# Supply against what an outlet wants, sale by sale.

_WIDTHS = {"wanted": 5.6, "likely on average": 3.8, "can be promised": 1.7}
"""Width of a weekly sale's columns, one inside the other, so that they differ in grey too. [day]"""

_FILLS = {"wanted": PALE, "likely on average": STRAW, "can be promised": GRASS}

_ROOM_BESIDE = timedelta(days=3)


@in_style
def plot_supply(
    sales: Sequence[Sale],
    units: Units,
    ax: Axes | None = None,
    *,
    span: tuple[date, date] | None = None,
) -> Axes:
    """Draw what is wanted, likely and promised on each day of one outlet, one inside the other.

    There is at least one sale; without `span` the axis goes from the first to the last.
    """
    ax = axes_of(ax, height=2.1)
    unit, per = UNIT_OF_WEIGHT[units]
    days = [sale.on for sale in sales]
    middle = [number(day) + 0.5 for day in days]
    wanted = [sale.target_kg / per for sale in sales]
    heights = {
        "wanted": wanted,
        "likely on average": [sale.delivered_kg / per for sale in sales],
        "can be promised": [sale.promise_kg / per for sale in sales],
    }
    for name, high in heights.items():
        ax.bar(
            middle,
            high,
            _WIDTHS[name],
            facecolor=_FILLS[name],
            edgecolor=INK if name == "likely on average" else SOFT,
            linewidth=0.4,
            label=name,
        )
    key_above(ax, 3, columnspacing=1.0, handlelength=1.2, handletextpad=0.5)
    first, last = span or (days[0], days[-1])
    show_days(ax, first - _ROOM_BESIDE, last + _ROOM_BESIDE)
    ax.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10]))
    ax.set_ylim(0, 1.08 * (max(wanted) or 1.0))
    say_unit(ax, unit)
    return ax


# The moisture of one stack's logs, with marks for water given.

LOW, HIGH = 20.0, 55.0
"""Ends of the axis, unless the logs were drier or wetter. [% wet]"""

KEY = (
    ("▼", "soaked"),
    ("▲", "watered"),
    ("△", "watering taken as given, the diary being silent"),
    ("●", "sample log weighed"),
    ("– –", "water below this line"),
    ("· · ·", "spawn does not survive below this one"),
)
"""Marks and what they mean."""


@in_style
def plot_moisture(course: MoistureCourse, ax: Axes | None = None) -> Axes:
    """Draw how wet a stack's logs have been; the marks are explained by `KEY`."""
    ax = axes_of(ax)
    last = course.today - timedelta(days=1)
    days = number(course.first) + np.arange(len(course.wet)) + 0.5
    percent = 100 * course.wet
    known = percent[np.isfinite(percent)]
    low = min([LOW, *(known - 2)])
    high = max([HIGH, *(known + 2), *(100 * wet + 2 for _, wet in course.weighed)])
    ax.plot(days, percent, "-", color=GRASS, linewidth=1.3, label="moisture")
    if course.keep_above is not None:
        ax.axhline(100 * course.keep_above, color=INK, linewidth=0.8, linestyle=(0, (5, 3)))
    ax.axhline(100 * course.dead_below, color=EARTH, linewidth=1.0, linestyle=(0, (1, 1.5)))
    band = high - low
    _row(ax, [on for on, _ in course.watered], low + 0.06 * band, "^", SKY, SKY, "watered")
    _row(ax, [on for on, _ in course.assumed], low + 0.06 * band, "^", SKY, "white", "assumed")
    _row(ax, course.soaked, high - 0.06 * band, "v", INK, INK, "soaked")
    if course.weighed:
        ax.plot(
            [number(on) + 0.5 for on, _ in course.weighed],
            [100 * wet for _, wet in course.weighed],
            "o",
            color=INK,
            markersize=3.5,
            markerfacecolor="white",
            label="weighed",
        )
    show_days(ax, course.first, last, mondays=False)
    ax.set_ylim(low, high)
    ax.set_yticks([v for v in (20, 30, 40, 50, 60, 70, 80) if low <= v <= high])
    ax.yaxis.set_major_formatter(lambda value, _: f"{value:.0f}%")
    ax.grid(axis="y", color=SOFT, linewidth=0.3, alpha=0.5)
    now = f": {known[-1]:.0f}%" if len(known) else ""
    ax.set_title(f"{short_name(course.stack)}{now}", loc="left", pad=3, parse_math=False)
    return ax


def _row(
    ax: Axes, days: Sequence[date], height: float, marker: str, edge: str, face: str, label: str
) -> None:
    if days:
        ax.plot(
            [number(day) + 0.5 for day in days],
            [height] * len(days),
            marker,
            color=edge,
            markerfacecolor=face,
            markersize=4,
            markeredgewidth=0.8,
            label=label,
        )
