"""Records in a grower's words: what was understood, what is asked back, what is refused."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date

from fruitcast.diary.asides import may_be_left
from fruitcast.diary.entries import KINDS, kind_named
from fruitcast.diary.entry_faults import faults_of
from fruitcast.diary.events import SOAK, UNDO, Event, in_force
from fruitcast.diary.limits import Limits, Say
from fruitcast.diary.marks import Parts
from fruitcast.diary.phrases import DAY_EXAMPLES, UNIT_OF_WEIGHT, Phrase
from fruitcast.diary.record_checks import describe, objections_to
from fruitcast.diary.record_phrase import Given
from fruitcast.diary.spoken_kind import OTHER_WORDS, left_remark, unknown_kind
from fruitcast.diary.state import StackState
from fruitcast.errors import InputError
from fruitcast.numbers import Numbers, default_numbers
from fruitcast.units import Units, in_own_units
from fruitcast.yard.model import Yard, stack_of


class NeedsYesError(InputError):
    """A record that is refused unless it is confirmed.

    Attributes
    ----------
    doubts : tuple of str
        All that speaks against it, the gravest first.
    """

    def __init__(self, doubts: Sequence[str], understood: str) -> None:
        self.doubts = tuple(doubts)
        super().__init__(
            f"{doubts[0]}. Understood was: {understood} If it is right all the same, add --yes."
        )


PlannedHours = Callable[[str, date], float | None]
"""Hours in water that the plan has for a stack that goes in on about a day. [h]"""

MAX_WORDS = 2500
"""Longest record read. [characters]"""


@dataclass(frozen=True)
class Recorded:
    """A record as understood, not yet written."""

    event: Event  # what would be written
    understood: str  # the same in words
    questions: tuple[str, ...] = ()  # what to ask before writing it; empty when nothing is doubtful
    choices: tuple[str, ...] = ()  # those of them to which 'yes' beforehand is no answer


def parse_record(
    kind: str,
    words: str | Iterable[str],
    *,
    today: date,
    stacks: Mapping[str, StackState],
    units: Units,
    outlets: Sequence[str] = (),
    numbers: Numbers | None = None,
    tank_logs: int | None = None,
    on_hand: Callable[[date], float | None] | None = None,
    prices: Mapping[str, float] | None = None,
    known: Sequence[Event] = (),
    day: date | None = None,
    remark: str = "",
    yes: bool = False,
    planned: PlannedHours | None = None,
    aside: list[str] | None = None,
) -> Recorded:
    """Return what a record in words means.

    Parameters
    ----------
    kind : str
        'soak', 'pick', ...; see `entries.KINDS`. 'undo' is `undo_record`.
    words : str or iterable of str
        The rest: 'A 2 lb 6 oz yesterday'.
    today : date
        Now.
    stacks : mapping of str to StackState
        Stacks and lots as the diary leaves them.
    units : {'us', 'metric'}
        What a number without a unit is in, and what people see.
    outlets : sequence of str
        Names of the outlets.
    numbers : Numbers or None
        Limits of the likely, [diary], and what 'overnight' means; None takes ours.
    tank_logs : int or None
        Logs that fit the tank; None asks nothing about it.
    on_hand : callable or None
        Weight on hand by the diary on a day, None where nothing tells; None asks nothing about
        it. [kg]
    prices : mapping of str to float or None
        The most that each outlet has paid or is set to pay; None asks nothing. [money/kg]
    known : sequence of Event
        The diary so far: what is in it already is asked about.
    day : date or None
        Day of a record whose words name none; None is today.
    remark : str
        What was said beside it; it goes into the note.
    yes : bool
        Confirmed beforehand: nothing is asked, and only the impossible is refused, and what
        could mean two things.
    planned : callable or None
        Hours in water by the plan, for a soak whose words name none. [h]
    aside : list of str or None
        Takes the words that were left aside; None refuses words that are not understood.

    Raises
    ------
    InputError
        If the words can't be read or the record can't be true; nothing is guessed.
    """
    kind = _kind_of(kind)
    how_to = in_own_units(kind_named(kind).how_to, units)
    refuse_long(words if isinstance(words, str) else " ".join(words))
    phrase = Phrase(words)
    numbers = numbers or default_numbers()
    if kind == "release":  # a promise may be to somebody who is no outlet of the yard
        promised = [event.outlet for event in known if event.kind == "promised"]
        outlets = tuple(dict.fromkeys([*outlets, *promised]))
    default_day, names = day or today, _names(stacks)
    whole = kind_named(kind).whole
    given = Given(phrase, how_to, today, default_day, units, tuple(outlets), names, numbers, whole)
    with examples_in(units):
        event = kind_named(kind).read(given)
    if event.kg is not None and (unit := UNIT_OF_WEIGHT.search(remark)):
        raise InputError(f"'{unit[0]}': write the whole weight in figures, like '2.5 lb|1.2 kg'.")
    event = replace(
        event, note="; ".join(n for n in (event.note, left_remark(given, kind), remark) if n)
    )
    phrase.text = phrase.text.strip(" ,;.:")
    parts = Parts(given.stacks, given.outlets)
    if phrase.text and aside is not None and may_be_left(phrase.text, parts):
        aside.append(phrase.text)
        phrase.text = ""
    if phrase.text:
        raise InputError(
            f"'{kind} {phrase.given}': '{phrase.text}' is not understood. {how_to}; a day is "
            f"written like {DAY_EXAMPLES}."
        )
    by_plan = None
    if planned is not None and event.kind == SOAK and event.hours is None:
        by_plan = planned(event.stack, event.on)
        event = replace(event, hours=by_plan)
    faults = faults_of(event)
    if faults:
        raise InputError(f"'{kind} {phrase.given}': {'; '.join(faults)}. {how_to}.")
    recorded = check_record(
        event,
        today=today,
        stacks=stacks,
        units=units,
        numbers=numbers,
        tank_logs=tank_logs,
        on_hand=on_hand,
        prices=prices,
        known=known,
        yes=yes,
    )
    if given.hints:
        recorded = replace(recorded, understood=" ".join([recorded.understood, *given.hints]))
    if by_plan is not None:
        told = f"{recorded.understood} The hours are the plan's."
        recorded = replace(recorded, understood=told)
    if yes and given.choices:
        raise InputError(f"{given.choices[0]} Write it out; nothing was recorded.")
    if yes:
        return recorded
    choices = tuple(given.choices)
    questions = (*choices, *given.questions, *recorded.questions)
    return replace(recorded, questions=questions, choices=choices)


@contextmanager
def examples_in(units: Units) -> Iterator[None]:
    """Let what is refused within show its examples in a yard's own units."""
    try:
        yield
    except InputError as error:
        error.args = (in_own_units(str(error), units),)
        raise


def refuse_long(text: str) -> None:
    """Refuse words too many to be one record."""
    if len(text) > MAX_WORDS:
        raise InputError(
            f"The record has {len(text)} characters, at most {MAX_WORDS} are read. Shorten the "
            "note."
        )


def check_record(
    event: Event,
    *,
    today: date,
    stacks: Mapping[str, StackState],
    units: Units,
    numbers: Numbers | None = None,
    tank_logs: int | None = None,
    on_hand: Callable[[date], float | None] | None = None,
    prices: Mapping[str, float] | None = None,
    known: Sequence[Event] = (),
    yes: bool = False,
) -> Recorded:
    """Return an entry that is fit for the diary, with its words and the questions it raises.

    The others are as in `parse_record`. Raises InputError if it can't be true, NeedsYesError if it
    is refused unless confirmed.
    """
    concerned = _concerned(event.stack, stacks)
    limits = Limits(
        Say(units),
        numbers or default_numbers(),
        stacks,
        tank_logs,
        concerned,
        on_hand,
        prices or {},
        known,
    )
    objections = objections_to(event, limits, today)
    for objection in objections:
        if objection.weight == "impossible":
            raise InputError(f"{in_own_units(objection.text, units)}.")
        if objection.weight == "refused" and not yes:
            raise NeedsYesError([o.text for o in objections], describe(event, units))
    understood = describe(event, units)
    if outcome := kind_named(event.kind).outcome(event, limits):
        understood += f" {outcome}"
    if event.stack and event.stack not in stacks and len(concerned) > 1:
        *names, last = (state.name for state in concerned)
        understood += f" That is {', '.join(names)} and {last}."
    questions = () if yes else tuple(o.text for o in objections if o.weight == "question")
    return Recorded(event, understood, questions)


def undo_record(events: Sequence[Event], units: Units, uuid: str | None = None) -> Recorded:
    """Return the entry that cancels another: the last one in force, or one by its uuid.

    Raises InputError if there is nothing to cancel, or what is given of a uuid fits none or
    several.
    """
    valid = in_force(events)
    if uuid is not None:
        valid = [event for event in valid if event.uuid.startswith(uuid)]
    if not valid:
        what = f"No entry in force begins with '{uuid}'" if uuid else "The diary holds no entry"
        raise InputError(f"{what}. There is nothing to undo.")
    if uuid is not None and len(valid) > 1:
        raise InputError(f"{len(valid)} entries begin with '{uuid}'. Give more of it.")
    target = valid[-1]
    event = Event(UNDO, target.on, cancels=target.uuid)
    return Recorded(event, describe(event, units, target))


def outlet_names(yard: Yard) -> tuple[str, ...]:
    """Return the names of all outlets and orders of a yard."""
    names = [outlet.name for outlet in yard.outlets] + [order.outlet for order in yard.orders]
    return tuple(dict.fromkeys(names))


def _kind_of(word: str) -> str:
    kind = word.strip().lower()
    kind = OTHER_WORDS.get(kind, kind)
    if kind == UNDO:
        raise InputError("An undo stands alone. 'fruitcast record undo' cancels the last entry.")
    if kind in KINDS:
        return kind
    raise InputError(unknown_kind(word))


def _names(stacks: Mapping[str, StackState]) -> tuple[str, ...]:
    """Return stacks and lots, and the stacks that the lots are parts of."""
    return tuple(dict.fromkeys([*stacks, *map(stack_of, stacks)]))


def _concerned(name: str, stacks: Mapping[str, StackState]) -> list[StackState]:
    if name in stacks:
        return [stacks[name]]
    lots = [state for lot, state in stacks.items() if stack_of(lot) == name]
    return [lot for lot in lots if lot.logs] or lots
