"""Records put into words for people, and whether each is likely."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from fruitcast.diary.entries import kind_named
from fruitcast.diary.entries.kind import Objection
from fruitcast.diary.events import Event, in_force
from fruitcast.diary.phrases import LITRES_PER_GALLON, day_in_words
from fruitcast.diary.state import StackState
from fruitcast.numbers import Numbers
from fruitcast.units import KG_PER_LB, Units, format_rain

# Diary entries put into words for people, for confirmation and for lists.


def weight_in_words(kg: float, units: Units) -> str:
    """Return a weight as it is read off a scale: '2 lb 6 oz', '6.5 oz', '1.08 kg', '450 g'."""
    if units == "metric":
        return f"{kg:.2f} kg" if kg >= 0.9995 else f"{kg * 1000:.0f} g"
    tenths = round(kg / KG_PER_LB * 160)  # of an ounce
    pounds, tenths = divmod(tenths, 160)
    ounces = f"{tenths / 10:g} oz"
    if not pounds:
        return ounces
    return f"{pounds} lb {ounces}" if tenths else f"{pounds} lb"


@dataclass(frozen=True)
class Say:
    """Amounts, days and entries as people of one kind of units read them."""

    units: Units

    def weight(self, kg: float | None) -> str:
        """Return a weight, nothing for none. [kg]"""
        return "" if kg is None else weight_in_words(kg, self.units)

    def paid(self, paid: float, kg: float | None) -> str:
        """Return what was taken for a weight: 'for 26.40 (22.00 a kg)'."""
        if not paid or not kg:
            return f"for {paid:.2f}" if paid else "for nothing"
        return f"for {paid:.2f} ({self.price(paid / kg)})"

    def price(self, per_kg: float) -> str:
        """Return a price a weight: '22.00 a kg', '10.00 a lb'."""
        if self.units == "us":
            return f"{per_kg * KG_PER_LB:.2f} a lb"
        return f"{per_kg:.2f} a kg"

    def rain(self, mm: float) -> str:
        """Return a depth of water. [mm]"""
        return format_rain(mm, self.units)

    def litres(self, litres: float) -> str:
        """Return a volume of water. [l]"""
        if self.units == "us":
            return f"{litres / LITRES_PER_GALLON:.0f} gal"
        return f"{litres:.0f} l"

    def day(self, day: date) -> str:
        """Return a day."""
        return day_in_words(day)

    def entry(self, event: Event, cancelled: Event | None = None) -> str:
        """Return what an entry records; see `describe`."""
        return kind_named(event.kind).words(event, self, cancelled)


def describe(event: Event, units: Units, cancelled: Event | None = None) -> str:
    """Return one sentence that says what an entry records.

    Parameters
    ----------
    event : Event
        The entry.
    units : {'us', 'metric'}
        What people see.
    cancelled : Event or None
        The entry that an undo cancels, if known.
    """
    return Say(units).entry(event, cancelled)


# Is a record likely? Questions for the unlikely, refusal of what cannot be.


@dataclass(frozen=True)
class Limits:
    """What a record is held against.

    Attributes
    ----------
    say : Say
        Weights and days for people.
    numbers : Numbers
        The limits, [diary].
    stacks : mapping of str to StackState
        All stacks and lots as the diary leaves them.
    tank_logs : int or None
        Logs that fit the tank; None asks nothing about it.
    concerned : sequence of StackState
        The stack or lots that the record names, none for the whole yard.
    on_hand : callable or None
        Weight on hand by the diary on a day, None where nothing tells. [kg]
    prices : mapping of str to float
        The most that each outlet has paid or is set to pay. [money/kg]
    known : sequence of Event
        The diary so far, to tell what is written down twice.
    """

    say: Say
    numbers: Numbers
    stacks: Mapping[str, StackState]
    tank_logs: int | None
    concerned: Sequence[StackState]
    on_hand: Callable[[date], float | None] | None = None
    prices: Mapping[str, float] = field(default_factory=dict)
    known: Sequence[Event] = ()

    @property
    def alive(self) -> int:
        """Living logs of the stack or lots that the record names."""
        return sum(state.logs for state in self.concerned)


def objections_to(event: Event, limits: Limits, today: date) -> list[Objection]:
    """Return what speaks against a record, the gravest first.

    Parameters
    ----------
    event : Event
        The record as understood.
    limits : Limits
        What it is held against.
    today : date
        Now.
    """
    found = _day(event, today, old_days=limits.numbers.diary.old_days)
    found += _again(event, limits)
    found += kind_named(event.kind).objections(event, limits)
    order = ("impossible", "refused", "question")
    return sorted(found, key=lambda objection: order.index(objection.weight))


def _day(event: Event, today: date, *, old_days: float) -> list[Objection]:
    if event.on > today:
        return [
            Objection(
                f"{day_in_words(event.on)} is still to come, today is {day_in_words(today)}. "
                "Record it when it is done",
                "refused",
            )
        ]
    if event.picked_on is not None and event.picked_on > event.on:
        return [
            Objection(
                f"Picked on {day_in_words(event.picked_on)} is after {day_in_words(event.on)}. "
                "Give the day of the pick",
                "impossible",
            )
        ]
    if event.on < today - timedelta(days=int(old_days)):
        return [Objection(f"{day_in_words(event.on)} is long ago. Is the year right?", "question")]
    return []


def _again(event: Event, limits: Limits) -> list[Objection]:
    """Ask about what the diary holds already: two who did it together may both write it down."""
    if not kind_named(event.kind).twice_is_odd:
        return []
    bare = _bare(event)
    alike = [
        known
        for known in limits.known
        if known.on == event.on
        and _bare(known) == bare
        and (not event.uuid or known.uuid != event.uuid)
    ]
    if not alike or not any(known in alike for known in in_force(limits.known)):
        return []
    words = limits.say.entry(event).rstrip(".")
    return [Objection(f"{words}: that is in the diary already. Was it done once more?", "question")]


def _bare(event: Event) -> Event:
    return replace(event, note="", uuid="", recorded_at=None)
