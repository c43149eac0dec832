"""How figures of entries are read out to people, and what a record is held against."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from fruitcast.diary.events import Event
from fruitcast.diary.phrases import LITRES_PER_GALLON, day_in_words
from fruitcast.diary.state import StackState
from fruitcast.numbers import Numbers
from fruitcast.units import KG_PER_LB, Units, format_rain
from fruitcast.yard.model import Stack, stack_of


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
        """Return a depth of water as it is read off a gauge, to a tenth of a millimetre. [mm]"""
        if self.units == "metric":
            return f"{round(mm, 1):g} mm"
        return format_rain(mm, self.units)

    def litres(self, litres: float) -> str:
        """Return a volume of water. [l]"""
        if self.units == "us":
            return f"{litres / LITRES_PER_GALLON:.0f} gal"
        return f"{litres:.0f} l"

    def day(self, day: date) -> str:
        """Return a day."""
        return day_in_words(day)


@dataclass(frozen=True)
class Limits:
    """What a record is held against."""

    say: Say  # weights and days for people
    numbers: Numbers  # the limits, [diary]
    stacks: Mapping[str, StackState]  # all stacks and lots as the diary leaves them
    today: date
    tank_logs: int | None = None  # logs that fit the tank; None asks nothing about it
    # Weight on hand by the diary on a day, None where nothing tells [kg]
    on_hand: Callable[[date], float | None] | None = None
    # The most that each outlet has paid or is set to pay [money/kg]
    prices: Mapping[str, float] = field(default_factory=dict)
    rows: Mapping[str, Stack] = field(default_factory=dict)  # of stacks.csv, by name
    known: Sequence[Event] = ()  # the diary so far, to tell what is written down twice
    # The stack or lots that the record names, none for the whole yard
    concerned: Sequence[StackState] = ()

    @property
    def concerned_rows(self) -> list[Stack]:
        """The rows of stacks.csv of the stack or lots that the record names."""
        names = dict.fromkeys(stack_of(state.name) for state in self.concerned)
        return [self.rows[name] for name in names if name in self.rows]

    @property
    def alive(self) -> int:
        """Living logs of the stack or lots that the record names."""
        return sum(state.logs for state in self.concerned)
