"""What all kinds of entry have in common: what each may say of itself."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal, NamedTuple

from fruitcast.diary.events import (
    DEAD_LOGS,
    DRIED_OUT,
    RAIN_SOAKED,
    SLUGS,
    Event,
    noted,
)
from fruitcast.diary.pattern import pattern_of
from fruitcast.yard.model import stack_of

if TYPE_CHECKING:
    from fruitcast.diary.history import StackHistory, YardHistory
    from fruitcast.diary.limits import Limits, Say
    from fruitcast.diary.phrases import Phrase
    from fruitcast.diary.record_phrase import Given


LOST = "lost"
LOST_TO = {SLUGS: "lost to slugs", RAIN_SOAKED: "rain-soaked", DRIED_OUT: "dried out"}
"""What is said of mushrooms that can't be sold, without a cause and by cause."""


Gravity = Literal["question", "refused", "impossible"]


@dataclass(frozen=True)
class Objection:
    """What speaks against a record."""

    text: str  # one sentence or two
    # 'question': ask before recording; 'refused': only when confirmed; 'impossible': never
    weight: Gravity


def question(text: str) -> list[Objection]:
    """Return what is asked before recording."""
    return [Objection(text, "question")]


def refused(text: str) -> list[Objection]:
    """Return what is recorded only when it is confirmed."""
    return [Objection(text, "refused")]


def impossible(text: str) -> list[Objection]:
    """Return what is never recorded."""
    return [Objection(text, "impossible")]


STACK = "\u00a7"
"""Stands for each letter of a stack's name in the patterns of sayings."""


ASIDE = "\u00a4"
"""Stands for each letter of what is said of the hour and the weather."""


THIEVES = (
    r"(?:slugs?|snails?|deer|squirrels?|chipmunks?|mice|mouse|rats?|voles?|rabbits?|hares?|birds?|crows?"
    r"|pigeons?|jays?|magpies?|rooks?|pheasants?|hedgehogs?|possums?|skunks?|toads?|heifers?|horses?"
    r"|turkeys?|woodpeckers?|woodchucks?|groundhogs?|raccoons?|badgers?|bears?|foxe?s?|dogs?|cats?|cows?"
    r"|sheep|goats?|pigs?|porcupines?|moles?|beetles?|weevils?|borers?|termites?|insects?|ants?|wasps?|bees|hornets?|flies|gnats?"
    r"|mites?|springtails|millipedes?|earwigs?|woodlice|maggots?|worms?|larvae|grubs?|caterpillars?"
    r"|storms?|winds?|frost|hail|sun|heat)"
)
"""Pattern of what takes mushrooms and harms logs: animals and weather."""


NOTABLE = (
    r"(?:else|dead|wrong|unusual|special|much|great|fancy|big|serious|new|to report"
    r"|to (?:shout|write home|boast|brag|complain|worry)(?: about)?)"
)
"""Pattern of what stands behind 'nothing' where it does not mean that no mushroom came."""


THREW = (
    r"(?:threw|thrown|throw|tossed|chucked|slung|chucking|throwing|tossing|dumped|binned|bin"
    r"|composted|ditched|discarded|scrapped)(?: (?:out|away|in the bin|on the compost(?: heap)?))?"
)
"""Pattern of having thrown something away."""


SHEET = (
    r"(?:fleece|(?:frost|shade) ?(?:cloth|net)|tarp(?:aulin)?s?|lids?|covers?|blankets?|burlap"
    r"|hessian|(?:straw |reed )?mat(?:s|ting)?"
    r"|shad(?:e|ing)(?= (?:over|across)\b)|sack(?:ing|cloth)|(?<!in )(?:bed|dust)?sheet(?:s|ing)?"
    r"|polythene|plastic|canvas|net(?:s|ting)?|(?:old )?carpet"
    r"|straw(?= (?:on|over|round|around)\b))"
)
"""Pattern of what logs are covered with."""


class Saying(NamedTuple):
    """Words that mean a kind of record."""

    pattern: str  # the words; a group named 'kept' stays in the sentence
    # What must stand beside them, or with '-' must not: 'weight -tank'. See `spoken_kind`.
    when: str = ""


def said(table: str) -> tuple[Saying, ...]:
    """Return the sayings of a table, one a line; a line that begins with '|' goes on with the last.

    What must stand beside the words, or must not, comes behind ' :: '.
    """
    rows = re.sub(r"\s*\n\s*\|", "|", table.strip()).splitlines()
    return tuple(Saying(*row.strip().split(" :: ")) for row in rows)


@dataclass(frozen=True)
class Form:
    """The form of the page on which a kind is written down."""

    title: str  # what its button says, in the past: 'Soaked'
    # Fields besides stack and day: 'logs', 'hours', 'weight', 'losses', 'paid', 'depth', 'outlet'
    fields: tuple[str, ...] = ()
    # stack, yard: whether it is about a stack, whether it may be about the whole yard
    stack: bool = True
    yard: bool = False
    depth: str = "Water"  # what a depth is one of
    first: bool = False  # whether its button comes before the others, because it is used most
    selling: bool = False  # whether it is for those who sell


class EntryKind:
    """A kind of entry; each has a class of its own, named in the list."""

    # One sentence of example; empty when it is not told in words
    how_to: ClassVar[str] = ""
    done: ClassVar[str] = ""  # what was done or seen, to be filled in with the entry's figures
    other_words: ClassVar[tuple[str, ...]] = ()  # other first words of such a record
    # What stands in a sentence that begins with one of these words and means another kind
    unless: ClassVar[tuple[str, ...]] = ()
    # What means such a record wherever it stands in a sentence; it is taken out of it
    sayings: ClassVar[tuple[str | Saying, ...]] = ()
    # The same, where no sayings of any kind are met: verbs of many meanings
    maybe: ClassVar[tuple[Saying, ...]] = ()
    # What is seen rather than done: it means such a record where nothing else does, and is left in
    # the sentence
    signs: ClassVar[tuple[str | Saying, ...]] = ()
    planned: ClassVar[bool] = True  # whether a plan goes by it
    whole: ClassVar[bool] = False  # whether it is about all logs unless a number is given
    many: ClassVar[bool] = False  # whether one sentence may be about several stacks
    needs: ClassVar[tuple[str, ...]] = ()  # fields that must be there
    weight_above_zero: ClassVar[bool] = False  # whether a weight of nothing makes no sense
    for_outlet: ClassVar[str] = "for"  # the word before an outlet
    takes_logs: ClassVar[bool] = False  # whether its `logs` live no more
    # Whether its words tell `mm`, the stack that something came from, dead logs
    says_depth: ClassVar[bool] = False
    says_source: ClassVar[bool] = False
    counts_dead: ClassVar[bool] = False
    # Whether the same once more on one day is asked about (two phones, one job), and how
    twice_is_odd: ClassVar[bool] = False
    once_more: ClassVar[str] = "Was it done once more?"
    # What it does to the mushrooms on hand: brings some, counts them, takes some
    cold_store: ClassVar[Literal["in", "count", "out"] | None] = None
    form: ClassVar[Form | None] = None  # how the page writes it down

    def __init__(self, name: str) -> None:
        self.name = name

    def read(self, given: Given) -> Event:
        """Return the entry that a record in words means."""
        raise NotImplementedError

    def faults(self, event: Event) -> list[str]:
        """Return what makes its figures unfit, beyond the ranges that hold for all kinds."""
        if self.weight_above_zero and event.kg == 0:
            return [f"kg is 0, a {self.name} entry needs a weight above 0"]
        return []

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        """Return what speaks against an entry."""
        return []

    def deed(self, event: Event, say: Say) -> str:
        """Return what was done or seen, without the day."""
        logs, kg = logs_in_words(event.logs, "all logs"), say.weight(event.kg)
        return self.done.format(stack=event.stack, logs=logs, kg=kg, into=event.into)

    def outcome(self, event: Event, limits: Limits) -> str:
        """Return what stands in the yard after it, where people want to hear that; else nothing.

        The entry is not counted yet.
        """
        lost = event.logs if self.takes_logs else None
        return logs_left(event.stack, limits.alive - lost) if lost else ""

    def words(self, event: Event, say: Say, cancelled: str) -> str:
        """Return one sentence that says what an entry records."""
        details = self._details(event, say)
        if note := self.note_told(event):
            details.append(f'note: "{note}"')
        sentence = f"{self.deed(event, say)} on {say.day(event.on)}"
        return f"{sentence}{''.join(f', {detail}' for detail in details)}."

    def note_told(self, event: Event) -> str:
        """Return what of a note the deed doesn't say already."""
        return event.note

    def _details(self, event: Event, say: Say) -> list[str]:
        details = []
        if event.hours is not None:
            details.append(f"for {event.hours:g} h")
        if self.says_depth and event.mm is not None:
            details.append(f"about {say.rain(event.mm)}")
        if event.litres is not None:
            details.append(say.litres(event.litres))
        if event.start_kg is not None and event.moisture_wet is not None:
            start = say.weight(event.start_kg)
            details.append(
                f"starting point {start} at {event.moisture_wet:.0%} moisture (wet basis)"
            )
        if event.second_kg:
            details.append(f"of it {say.weight(event.second_kg)} seconds")
        if event.lost_kg:
            cause = LOST_TO.get(event.cause, LOST)
            of_it = "" if event.second_kg else "of it "
            details.append(f"{of_it}{say.weight(event.lost_kg)} {cause}")
        elif event.cause:
            details.append(LOST_TO.get(event.cause, LOST))
        details += [finding for finding in event.findings if finding != DEAD_LOGS]
        if self.counts_dead and event.logs:
            details.append(f"{logs_in_words(event.logs)} dead")
        if event.grade:
            details.append(f"grade {event.grade}")
        if event.outlet:
            details.append(f"{self.for_outlet} {event.outlet}")
        if event.paid is not None:
            details.append(say.paid(event.paid, event.kg))
        if self.says_source and event.stack:
            details.append(f"from {event.stack}")
        if event.picked_on is not None:
            details.append(f"picked on {say.day(event.picked_on)}")
        if event.by:
            details.append(f"by {event.by}")
        return details

    def enter(self, event: Event, yard: YardHistory) -> None:
        """Let an entry change what stands in the yard; entries come in order of date."""


class OfStacks(EntryKind):
    """A kind that changes the stack or lots it names; without a name all of the yard."""

    def enter(self, event: Event, yard: YardHistory) -> None:
        """See `Kind.enter`; an entry of a stack that the yard does not have is counted."""
        if histories := yard.concerned(event.stack):
            self.change(event, histories, yard)

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        """Let an entry change the stacks or lots it concerns together."""
        for history in histories:
            self.change_one(event, history)

    def change_one(self, event: Event, history: StackHistory) -> None:
        """Let an entry change one of them, where it does the same to each."""
        raise NotImplementedError


def shares_logs(one: str, other: str) -> bool:
    """Return whether two names may mean the same logs: a stack's, and that of one of its lots."""
    return other in (one, stack_of(one)) or one == stack_of(other)


def logs_left(stack: str, logs: int) -> str:
    """Return how many logs a stack has, as a sentence: 'Barn now has 12 logs.'"""
    return f"{stack} now has {logs_in_words(logs) if logs else 'no logs'}."


def with_logs_seen(phrase: Phrase, note: str) -> str:
    """Return a note with the number of logs on which something was seen, taken off the words."""
    counted = phrase.take(_ON_LOGS)
    return noted(counted and f"on {logs_in_words(int(counted[1] or counted[2]))}", note)


_ON_LOGS = pattern_of(
    r"(?:\b(?:on|at)\s+)?(?<![\w.,/])(\d+) (?:of the )?logs?\b(?: (?:out )?of (?:the )?\d+)?"
    r"|\bon (?:about )?(\d+)$"
)


class Seen(OfStacks):
    """A kind that says no more than which stack and when."""

    many = True
    needs = ("stack",)

    def read(self, given: Given) -> Event:
        phrase, stack, note, on = given.opened()
        if phrase.take_words("after (?:the |its )?soak(?:ing)?"):
            note = noted("after the soak", note)
        note = with_logs_seen(phrase, note)
        phrase.take_words("(?:out )?(?:of|from) (?:the )?(?:tank|water)", "out")
        return Event(self.name, on, given.stack_or_guess(stack), note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return not_alive(event, limits)


def odd_hours(event: Event, limits: Limits, weight: Gravity) -> list[Objection]:
    """Ask about a very short or long soak, and object to one that must be a slip.

    `weight` is how gravely the impossible counts.
    """
    if event.hours is None:
        return []
    diary = limits.numbers.diary
    hours = f"{event.hours:g} {'hour' if event.hours == 1 else 'hours'}"
    if event.hours > diary.impossible_soak:
        return [Objection(f"No log stays in the water for {hours}. Check the hours", weight)]
    if event.hours > diary.unlikely_soak:
        return question(f"{hours} is a very long soak. Is it right?")
    if event.hours < diary.short_soak:
        return question(f"{hours} is a very short soak. Is it right?")
    return []


def not_alive(event: Event, limits: Limits) -> list[Objection]:
    """Object when a stack has no logs."""
    if limits.alive:
        return []
    return refused(f"{event.stack} has no logs left. Check the stack")


def too_young(event: Event, limits: Limits, after_days: float, doing: str) -> list[Objection]:
    """Ask about the stack when its logs were inoculated too short a time ago for what is recorded.

    Logs that are known to have borne by then, by stacks.csv or the diary, are not asked about.
    """
    bore = [pick.on for state in limits.concerned for pick in state.picks]
    bore += [state.natural_seen_on for state in limits.concerned if state.natural_seen_on]
    for row in limits.concerned_rows:
        borne = any(row.inoculated <= day < event.on for day in bore)
        borne |= row.bearing_since is not None and row.bearing_since <= event.on
        if not borne and (event.on - row.inoculated).days < after_days:
            return question(
                f"{row.name} was inoculated on {limits.say.day(row.inoculated)} by stacks.csv, and "
                f"logs {doing} {after_days:.0f} days after it at the soonest. Is it the right "
                "stack?"
            )
    return []


def in_water(limits: Limits) -> list[Objection]:
    """Object when a stack is in the tank."""
    return [
        Objection(f"{state.name} is in the tank. Record the pull first", "impossible")
        for state in limits.concerned
        if state.in_tank
    ]


def logs_in_words(number: int | None, otherwise: str = "") -> str:
    """Return a number of logs for people, other words when none is given."""
    if number is None:
        return otherwise
    return "1 log" if number == 1 else f"{number} logs"
