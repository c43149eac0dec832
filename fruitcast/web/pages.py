"""The pages that show: today and the week, stacks, supply, diary, what it all rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from flask import Flask, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from fruitcast.app.serving import Clock, Situation, diary_entries, lots_open, search_entries
from fruitcast.diary import plan as kept
from fruitcast.outputs.at_a_glance import Glance, glance
from fruitcast.outputs.plan_words import model_change_lines
from fruitcast.outputs.table_words import table_words
from fruitcast.outputs.week import work_lines
from fruitcast.outputs.yield_words import learned_change_words, yield_words
from fruitcast.units import format_sale_weight, format_weight
from fruitcast.web.context import Context
from fruitcast.web.pictures import Sale, supply_picture
from fruitcast.web.words import change_words, stack_rows, sure_words, week_days, words_link
from fruitcast.words import day_words, percent_words, span_words

LAST_ENTRIES = 40
"""Entries of the diary on its page."""

FIRST_CHANGES = 3
"""Changes of the plan that stand open on the first page."""

MOST_MESSAGES = 20
"""Entries whose writing one message confirms."""


def add_pages(app: Flask, context: Context) -> None:
    """Add the pages to an application."""

    @app.get("/")
    def today() -> str:
        now = context.situation()
        written = diary_entries(now, uuids=request.args.getlist("written")[:MOST_MESSAGES])
        return render_template(
            "today.html",
            now=now,
            days=week_days(now),
            seen=_seen(now),
            lots=[each.stack for each in lots_open(now)],
            work=work_lines(now.plan, now.today) if now.plan else (),
            written=written,
            changes=change_words(context.progress().changes),
            first_changes=FIRST_CHANGES,
            release=lambda stack: words_link(f"release {stack}"),
            old_plan=_old_plan(now),
            seen_up_to=_seen_up_to(now),
            bears=yield_words(*now.plan.yield_beside_table()) if now.plan else "",
            learned=learned_change_words(now.plan.learned_change) if now.plan else "",
            changed=model_change_lines(now.plan, now.yard.units) if now.plan else (),
        )

    @app.get("/stacks")
    def stacks() -> str:
        now = context.situation()
        return render_template("stacks.html", now=now, rows=stack_rows(now))

    @app.get("/supply")
    def supply() -> str:
        now = context.situation()
        return render_template(
            "supply.html",
            now=now,
            outlets=_outlets(now),
            sure=sure_words(now.plan, now.yard.units) if now.plan and now.yard.sells else [],
            told=table_words(now.plan, now.yard) if now.plan and not now.yard.sells else (),
        )

    @app.get("/diary")
    def diary() -> str:
        now = context.situation()
        words = request.args.get("find", "").strip()[:100]
        if words:
            entries, count = search_entries(now, words, LAST_ENTRIES)
        else:
            entries, count = diary_entries(now, LAST_ENTRIES), 0
        return render_template(
            "diary.html", now=now, entries=entries, words=words, more=count - len(entries)
        )

    @app.get("/more")
    def more() -> str:
        return render_template("more.html", now=context.situation())

    @app.get("/about")
    def about() -> str:
        now = context.situation()
        return render_template(
            "about.html", now=now, rests_on=_rests_on(now, context.clock), old_plan=_old_plan(now)
        )

    @app.post("/plan")
    def plan() -> Response:
        context.replan()
        return redirect(url_for("today"), 303)

    @app.get("/status")
    def status() -> dict[str, object]:
        progress = context.progress()
        return {"busy": progress.busy, "behind": progress.behind}


def _seen(now: Situation) -> Glance | None:
    """Return the answer in short, to stand before the jobs."""
    if now.plan is None or now.week is None:
        return None
    return glance(now.plan, now.week, now.yard.units, now.today)


def _old_plan(now: Situation) -> str:
    """Return which day's plan is shown when it is not today's."""
    if now.plan is None or now.plan.today == now.today:
        return ""
    return day_words(now.plan.today)


@dataclass(frozen=True)
class _OutletShown:
    """An outlet with its picture and the rows of its table."""

    name: str
    picture: Markup
    rows: list[dict[str, str]]
    short: bool
    given: bool


def _outlets(now: Situation) -> list[_OutletShown]:
    """Return each outlet with its picture and the rows of its table."""
    if now.plan is None:
        return []
    units = now.yard.units
    by_name: dict[str, list[kept.Sale]] = {}
    for sale in now.plan.outlets:
        by_name.setdefault(sale.outlet, []).append(sale)
    found = []
    for name, entries in by_name.items():
        sales = [_sale(entry) for entry in entries]
        wanted, expected = sum(s.target for s in sales), sum(s.expected for s in sales)
        title = (
            f"{name}, {len(sales)} {'day' if len(sales) == 1 else 'days'} from "
            f"{span_words(sales[0].on, sales[-1].on)}: {format_weight(wanted, units)} wanted, "
            f"{format_weight(expected, units)} expected. The table below has every day."
        )
        short = {entry.on: entry.reason for entry in now.plan.short if entry.outlet == name}
        found.append(
            _OutletShown(
                name=name,
                picture=supply_picture(sales, title, units),
                rows=[_row(entry, now, short.get(entry.on, "")) for entry in entries],
                short=bool(short),
                given=any(entry.given_kg for entry in entries),
            )
        )
    return found


def _sale(entry: kept.Sale) -> Sale:
    return Sale(entry.on, entry.target_kg, entry.promise_kg, entry.delivered_kg)


def _row(entry: kept.Sale, now: Situation, short: str) -> dict[str, str]:
    units, sale = now.yard.units, _sale(entry)
    low, high = (
        format_weight(kg, units) for kg in (entry.available_p10_kg, entry.available_p90_kg)
    )
    return {
        "day": day_words(sale.on),
        "wanted": format_weight(sale.target, units),
        "promise": format_sale_weight(sale.promise, units),
        "given": format_weight(entry.given_kg, units) if entry.given_kg else "",
        "expected": format_weight(sale.expected, units),
        "chance": percent_words(entry.chance),
        "range": f"{low} to {high}",
        "short": short,
    }


def _rests_on(now: Situation, clock: Clock) -> Sequence[tuple[str, str]]:
    """Return what the page rests on and how old it is, each with its name."""
    zone = now.yard.site.timezone
    rows = [("This page", f"made {clock.now().astimezone(zone):%H:%M} on {day_words(now.today)}")]
    if now.plan is not None:
        made = now.background.plan_made_at
        at = f"{made.astimezone(zone):%H:%M} on " if made else ""
        rows.append(("Plan", f"made {at}{day_words(now.plan.today)}"))
    weather = now.background.weather
    if weather:
        rows.append(("Weather from", weather.origin))
        rows.append(("Weather seen up to", _seen_up_to(now)))
        if weather.forecast_to:
            rows.append(("Forecast up to", _long_day(weather.forecast_to)))
    years = now.background.years
    if years:
        rows.append(("Weather years", f"{len(years)}, {years[0]} to {years[-1]}"))
    entries = diary_entries(now, 1)
    if entries:
        event = entries[0].event
        at = f"{event.recorded_at.astimezone(zone):%H:%M, }" if event.recorded_at else ""
        day = event.recorded_at.astimezone(zone).date() if event.recorded_at else event.on
        rows.append(("Last entry in the diary", f"{at}{day_words(day)} {day.year}"))
    return rows


def _seen_up_to(now: Situation) -> str:
    """Return the last day of observed weather, and how many days are missing since."""
    weather = now.background.weather
    if not weather:
        return ""
    behind = (now.today - weather.observed_to).days - 1
    old = f"; {behind} {'day' if behind == 1 else 'days'} since are missing" if behind > 0 else ""
    return f"{_long_day(weather.observed_to)}{old}"


def _long_day(day: date) -> str:
    return f"{day_words(day)} {day.year}"
