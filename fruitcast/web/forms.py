"""What the forms of the page say, as entries for the diary."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from typing import TypeVar
from uuid import UUID, uuid5

from fruitcast.app.serving import Situation
from fruitcast.diary.entries import KINDS, kind_named
from fruitcast.diary.entries.kind import Form
from fruitcast.diary.events import Event, faults_of
from fruitcast.diary.phrases import parse_day
from fruitcast.errors import InputError
from fruitcast.units import Units, parse_rain, parse_weight
from fruitcast.yard.lots import SEPARATOR

T = TypeVar("T")

WHOLE_YARD = "*"
"""Stands for all stacks in a form."""

UNITS_OF_WEIGHT: dict[Units, tuple[str, str]] = {"us": ("lb", "oz"), "metric": ("kg", "g")}
"""Large and small unit of the two fields of a weight."""

UNIT_OF_DEPTH: dict[Units, str] = {"us": "in", "metric": "mm"}

MOST_STACKS = 60
"""Stacks in one form at most."""


def _forms() -> dict[str, Form]:
    found = {name: form for name in KINDS if (form := kind_named(name).form)}
    return dict(sorted(found.items(), key=lambda named: not named[1].first))


FORMS = _forms()
"""The forms by kind of entry, in the order of their buttons."""


class FormError(InputError):
    """What is wrong in a form, by field."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        self.faults = dict(faults)
        super().__init__(" ".join(self.faults.values()))


def read_form(
    kind: str, given: Mapping[str, str], stacks: list[str], now: Situation
) -> list[Event]:
    """Return the entries that a form means.

    Parameters
    ----------
    kind : str
        The kind of entry; it has a form.
    given : mapping of str to str
        Its fields: `day` or `other_day`, `uuid`, `note`, and those of the form.
    stacks : list of str
        Stacks ticked.
    now : Situation
        The yard.

    Raises
    ------
    FormError
        With what is wrong in each field.
    """
    form = FORMS[kind]
    faults: dict[str, str] = {}

    def field(name: str, read: Callable[[], T]) -> T | None:
        try:
            return read()
        except InputError as error:
            faults[name] = str(error)
            return None

    on = field("day", lambda: _day(given, now.today))
    named = field("stack", lambda: _stacks(form, stacks, now))
    event = Event(kind, on or now.today, note=given.get("note", "").strip())
    if "logs" in form.fields:
        event = replace(event, logs=field("logs", lambda: _whole(given.get("logs", ""), "logs")))
    if "hours" in form.fields:
        event = replace(event, hours=field("hours", lambda: _hours(given.get("hours", ""))))
    if "weight" in form.fields:
        event = replace(event, kg=field("weight", lambda: _weight(given, now.yard.units)))
    if "losses" in form.fields:
        unit = UNITS_OF_WEIGHT[now.yard.units][1]
        lost = field("lost", lambda: _part(given.get("lost", ""), unit))
        event = replace(
            event,
            second_kg=field("second", lambda: _part(given.get("second", ""), unit)),
            lost_kg=lost,
            cause=given.get("cause", "") if lost else "",
        )
    if "paid" in form.fields:
        event = replace(event, paid=field("paid", lambda: _paid(given.get("paid", ""))))
    if "outlet" in form.fields:
        event = replace(event, outlet=given.get("outlet", "").strip())
    if "depth" in form.fields:
        needed = "mm" in kind_named(kind).needs
        event = replace(event, mm=field("depth", lambda: _depth(given, now.yard.units, needed)))
    if faults or named is None:
        raise FormError(faults)
    events = [replace(event, stack=name) for name in named]
    unfit = [fault for event in events for fault in faults_of(event)]
    if unfit:
        raise FormError({"note": f"This cannot be kept: {'; '.join(dict.fromkeys(unfit))}."})
    return _with_uuids(events, given.get("uuid", ""))


def stack_names(now: Situation) -> list[str]:
    """Return the stacks and lots that a form offers, and after its lots the stack they are of."""
    names: list[str] = []
    for name, state in now.state.stacks.items():
        if not state.logs:
            continue
        base = name.rpartition(SEPARATOR)[0]
        if base and base not in names:
            names.append(base)
        names.append(name)
    return names


def form_uuid(text: str, number: int = 0) -> str:
    """Return the uuid that a form carries, so that handing it in twice writes once.

    The entries after the first have others, made of it.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        uuid = UUID(text)
        return str(uuid5(uuid, str(number)) if number else uuid)
    except ValueError:
        raise InputError(
            "The form is not complete. Open the page again and repeat what you did; nothing was "
            "written."
        ) from None


def _with_uuids(events: list[Event], text: str) -> list[Event]:
    uuid = form_uuid(text)
    if len(events) == 1:
        return [replace(events[0], uuid=uuid)]
    return [replace(event, uuid=str(uuid5(UUID(uuid), event.stack))) for event in events]


def _day(given: Mapping[str, str], today: date) -> date:
    text = given.get("other_day", "").strip() or given.get("day", "").strip()
    if not text or text == "other":
        raise InputError("Which day? Choose one, or give the date.")
    return parse_day(text[:60], today)


def _stacks(form: Form, given: list[str], now: Situation) -> list[str]:
    if not form.stack:
        return [""]
    if form.yard and WHOLE_YARD in given:
        return [""]
    known = {*now.state.stacks, *stack_names(now)}
    wanted = list(dict.fromkeys(given))[:MOST_STACKS]
    for name in wanted:
        if name not in known:
            raise InputError(
                f"There is no stack '{name[:60]}' in the yard. Choose one of the list."
            )
    if not wanted:
        raise InputError("Which stack? Choose one.")
    if len(wanted) > 1 and not form.yard:
        raise InputError("Choose one stack at a time.")
    return wanted


def _whole(text: str, what: str) -> int | None:
    if not text.strip():
        return None
    if not re.fullmatch(r"\d{1,6}", text.strip()):
        raise InputError(f"'{text.strip()[:40]}' is not a number of {what}. Give a whole number.")
    return int(text)


def _hours(text: str) -> float | None:
    if not text.strip():
        return None
    hours = _number(text, "hours")
    if hours <= 0:
        raise InputError("A soak needs more than 0 hours. Leave it empty for the usual ones.")
    return hours


def _number(text: str, what: str) -> float:
    if not re.fullmatch(r"\d{1,6}(?:[.,]\d{0,4})?|[.,]\d{1,4}", text.strip()):
        raise InputError(
            f"'{text.strip()[:40]}' is not a number of {what}. Write it like 24 or 1.5."
        )
    return float(text.strip().replace(",", "."))


def _weight(given: Mapping[str, str], units: Units) -> float:
    parts = []
    for name, unit in zip(("large", "small"), UNITS_OF_WEIGHT[units], strict=True):
        text = given.get(name, "").strip()
        if text:
            _number(text, unit)
            parts.append(f"{text} {unit}")
    if not parts:
        large, small = UNITS_OF_WEIGHT[units]
        raise InputError(f"What weight? Fill in {large} or {small}, or both.")
    return sum(parse_weight(part) for part in parts)


def _part(text: str, unit: str) -> float | None:
    """Return the weight of a part of a pick; none where the field is empty."""
    if not text.strip():
        return None
    _number(text, unit)
    return parse_weight(f"{text} {unit}")


def _paid(text: str) -> float | None:
    if not text.strip():
        return None
    amount = text.strip().strip("$€£ ")
    if not re.fullmatch(r"\d{1,6}(?:[.,]\d{1,2})?", amount):
        raise InputError(f"'{text.strip()[:40]}' is no sum of money. Write it like 26.40.")
    return float(amount.replace(",", "."))


def _depth(given: Mapping[str, str], units: Units, needed: bool) -> float | None:
    text = given.get("depth", "").strip()
    if not text:
        if needed:
            raise InputError("How much rain was in the gauge? Write 0 for none.")
        return None
    return parse_rain(text[:60], units)
