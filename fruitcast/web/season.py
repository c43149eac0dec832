"""The season as a chart on the page: each mark, by finger or key, says what, when and why."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape

from flask import Flask, render_template, request
from markupsafe import Markup

from fruitcast.app.serving import Situation
from fruitcast.diary.plan import NaturalFlush, PlannedSoak, SoakUnderWay
from fruitcast.units import Units, format_weight
from fruitcast.web.context import Context
from fruitcast.web.words import yes_link
from fruitcast.words import (
    MONTHS,
    NATURAL_CHANCE,
    about_words,
    comes_words,
    day_words,
    hours_words,
    percent_words,
    span_words,
)

DAY = 4
"""Width of a day. [px]"""
ROW, HEAD = 44, 24
"""Height of a stack's row, and of the names of the months above. [px]"""
LEAST = 24
"""Least width of what is tapped. [px]"""


@dataclass(frozen=True)
class Mark:
    """Something that is to happen to a stack."""

    stack: str
    kind: str  # 'soak' or 'natural'
    first: date
    last: date
    pick: tuple[date, date]  # first and last likely day of the first pick
    words: str  # what and when
    why: tuple[str, ...] = ()


def add_season(app: Flask, context: Context) -> None:
    """Add the page to an application."""

    @app.get("/season")
    def season() -> str:
        now = context.situation()
        marks = season_marks(now)
        chosen = request.args.get("mark", type=int)
        told = marks[chosen] if chosen is not None and 0 <= chosen < len(marks) else None
        stacks = list(dict.fromkeys(mark.stack for mark in marks))
        return render_template(
            "season.html",
            now=now,
            marks=marks,
            stacks=stacks,
            told=told,
            absent=_absent(now, stacks),
            fix=yes_link(f"fix {told.stack} {told.first}") if told else "",
            chart=season_chart(marks, stacks, now.today, chosen) if marks else "",
            row=ROW,
        )


def _absent(now: Situation, drawn: Sequence[str]) -> list[str]:
    """Return the stacks that the chart leaves out, each with why."""
    why = {entry.stack: entry.reason for entry in now.plan.waits} if now.plan else {}
    return [
        f"{name}: {why.get(name, 'no soak planned')}"
        for name in now.state.stacks
        if name not in drawn
    ]


def season_marks(now: Situation) -> list[Mark]:
    """Return what the plan holds for each stack, stack by stack, in order of day."""
    plan, units = now.plan, now.yard.units
    if plan is None:
        return []
    found = [_soak(each, units) for each in plan.under_way]
    found += [_soak(each, units) for each in plan.soaks]
    found += [_natural(each) for each in plan.natural if each.chance >= NATURAL_CHANCE]
    found = [mark for mark in found if max(mark.last, mark.pick[1]) >= now.today]
    order = {name: place for place, name in enumerate(now.state.stacks)}
    return sorted(found, key=lambda mark: (order.get(mark.stack, len(order)), mark.first))


def _soak(soak: PlannedSoak | SoakUnderWay, units: Units) -> Mark:
    pick = soak.pick
    comes = comes_words(soak.comes) if isinstance(soak, PlannedSoak) else ""
    words = (
        f"{soak.stack}: {soak.logs} logs into the tank on {day_words(soak.soak_on)} for "
        f"{hours_words(soak.hours)}, out on {day_words(soak.pull_on)}, first pick about "
        f"{about_words(pick.p10, pick.p50, pick.p90)}, "
        f"{format_weight(soak.expected_kg, units)}{f'; {comes}' if comes else ''}."
    )
    span = (pick.p10, pick.p90)
    return Mark(soak.stack, "soak", soak.soak_on, soak.pull_on, span, words, soak.reasons)


def _natural(flush: NaturalFlush) -> Mark:
    last = flush.week + timedelta(days=6)
    words = (
        f"{flush.stack}: may fruit by itself from {span_words(flush.week, last)}, in "
        f"{percent_words(flush.chance)} of the weather years."
    )
    return Mark(flush.stack, "natural", flush.week, last, (flush.week, last), words)


def season_chart(
    marks: Sequence[Mark], stacks: Sequence[str], today: date, chosen: int | None
) -> Markup:
    """Return the chart: a row a stack, the days from left to right, each mark a link.

    There is at least one mark; `chosen` is the one of which is told now.
    """
    end = max(max(mark.last, mark.pick[1]) for mark in marks) + timedelta(days=7)
    wide, high = ((end - today).days + 1) * DAY, HEAD + ROW * len(stacks)

    def x(day: date) -> int:
        return max((day - today).days, 0) * DAY

    parts = [
        f'<svg class="season" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}" '
        'role="group" aria-label="The season, a row for each stack" '
        'xmlns="http://www.w3.org/2000/svg">'
    ]
    for month in _months(today, end):
        parts.append(f'<path class="month" d="M{x(month)} 0V{high}"/>')
        parts.append(f'<text x="{x(month) + 4}" y="16">{MONTHS[month.month - 1]}</text>')
    for place in range(len(stacks)):
        parts.append(f'<path class="row" d="M0 {HEAD + ROW * (place + 1)}H{wide}"/>')
    for number, mark in enumerate(marks):
        top = HEAD + ROW * stacks.index(mark.stack)
        parts.append(_drawn(mark, number, top, x, number == chosen))
    return Markup("".join([*parts, "</svg>"]))


def _drawn(mark: Mark, number: int, top: int, x: Callable[[date], int], chosen: bool) -> str:
    """Return one mark as a link: the soak, the span of its first pick, and room to tap."""
    begin = x(mark.first)
    upto = max(x(mark.pick[1]) + DAY, begin + LEAST)
    shapes = []
    if mark.kind == "soak":
        across = max(x(mark.last) - begin, DAY)
        pick, most = x(mark.pick[0]), x(mark.pick[1]) + DAY
        if x(mark.last) > 0:  # else it is out of the tank already
            shapes.append(f'<path class="wait" d="M{begin} {top + 22}H{pick}"/>')
            shapes.append(
                f'<rect class="promise" x="{begin}" y="{top + 8}" width="{across}" height="28"/>'
            )
        shapes.append(
            f'<rect class="expected" x="{pick}" y="{top + 14}" width="{max(most - pick, DAY)}" '
            'height="16"/>'
        )
    else:
        across = x(mark.last) + DAY - begin
        shapes.append(
            f'<rect class="natural" x="{begin}" y="{top + 16}" width="{across}" height="12"/>'
        )
    words = escape(mark.words)
    return (
        f'<a href="/season?mark={number}#told" aria-label="{words}"'
        f"{' aria-current=' + chr(34) + 'true' + chr(34) if chosen else ''}>"
        f"<title>{words}</title>"
        f'<rect class="hit" x="{begin - 1}" y="{top + 3}" width="{upto - begin + 2}" '
        f'height="{ROW - 6}"/>{"".join(shapes)}</a>'
    )


def _months(first: date, last: date) -> Iterator[date]:
    month = date(first.year + first.month // 12, first.month % 12 + 1, 1)
    while month <= last:
        yield month
        month = date(month.year + month.month // 12, month.month % 12 + 1, 1)
