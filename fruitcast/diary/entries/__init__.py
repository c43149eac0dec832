"""Every kind of diary entry: the list, and a class for each beside it."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from fruitcast.diary.entries.kind import EntryKind


class Listed(NamedTuple):
    """A kind of entry in the list."""

    # Module and class; loaded when the kind is first met, so that help need not wait for it
    place: str
    # What it records, for the command's help; empty when it is no command of this kind
    what: str = ""
    examples: tuple[str, ...] = ()  # how it is typed after 'fruitcast record'


KINDS = {
    "soak": Listed(
        "tank.Soak", "Logs went into the tank", ("soak A 24 h", "soak A 12 logs overnight")
    ),
    "pull": Listed("tank.Pull", "Logs came out of the tank", ("pull A",)),
    "pick": Listed(
        "picks.Pick",
        "Mushrooms picked",
        ("pick A 2 lb 6 oz for Saturday market", "pick A 1.1 kg grade 2 yesterday"),
    ),
    "pins": Listed("flushes.Pins", "Pins seen", ("pins A", "pins A about 15 a log")),
    "fruiting": Listed("flushes.Fruiting", "A flush seen in the open", ("fruiting A",)),
    "nothing": Listed("flushes.Nothing", "Nothing came of a soak or of pins", ("nothing A",)),
    "water": Listed("logs.Water", "Logs watered", ("water A 1 in", "water all")),
    "rain": Listed("logs.Rain", "The yard's own rain gauge", ("rain 0.6 in yesterday",)),
    "weigh": Listed(
        "logs.Weigh",
        "A sample log weighed, the first time with its moisture",
        ("weigh A 35 lb at 42 %", "weigh A 29 lb"),
    ),
    "inspect": Listed("logs.Inspect", "Logs looked over", ("inspect A white ends, 2 dead",)),
    "turn": Listed("notes.Turn", "Logs turned and restacked", ("turn A",)),
    "cover": Listed("notes.Cover", "Logs covered against rain", ("cover A",)),
    "uncover": Listed("notes.Uncover", "Logs no longer covered", ("uncover A",)),
    "inoculate": Listed("notes.Inoculate", "Logs inoculated", ("inoculate A",)),
    "stock": Listed("sales.Stock", "Mushrooms on hand, counted", ("stock 5 lb",)),
    "sold": Listed("sales.Sold", "Mushrooms sold", ("sold 2 lb Saturday market",)),
    "discard": Listed(
        "sales.Discard",
        "Mushrooms thrown away, eaten, dried or given away",
        ("discard 1 lb from A",),
    ),
    "split": Listed(
        "stacking.Split", "A part becomes a stack of its own", ("split A 10 logs into K2",)
    ),
    "merge": Listed("stacking.Merge", "A stack joins another", ("merge A into B",)),
    "lots": Listed(
        "stacking.Lots", "A stack soaked in lots, or whole again", ("lots A 3", "lots A whole")
    ),
    "move": Listed("stacking.Move", "A stack has a new place", ("move A to the north bank",)),
    "retire": Listed("stacking.Retire", "Logs taken out for good", ("retire A 3 logs",)),
    "fix": Listed(
        "word.Fix", "The next soak is on a day you choose", ("fix G Tue", "fix G 11 May 24 h")
    ),
    "hold": Listed(
        "word.Hold", "A stack is kept out of the tank", ("hold A until 1 Aug", "hold A this season")
    ),
    "release": Listed(
        "word.Release",
        "What was fixed, kept back or promised is let go",
        ("release A", "release Saturday market Sat"),
    ),
    "promised": Listed(
        "word.Promised", "A weight promised for a day", ("promised Saturday market 2 lb Sat",)
    ),
    "note": Listed("notes.Note", "Anything else", ("note A bark peels",)),
    "undo": Listed("notes.Undo"),
}
"""Every kind of entry, in the order in which they are listed to people."""


@cache
def kind_named(name: str) -> EntryKind:
    """Return a kind of entry, for a name not in the list one of a later version."""
    place = KINDS[name].place if name in KINDS else "notes.OfALaterVersion"
    module, _, class_name = place.partition(".")
    made: EntryKind = getattr(import_module(f"{__name__}.{module}"), class_name)(name)
    return made
