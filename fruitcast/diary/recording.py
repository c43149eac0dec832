"""Records in a grower's words: what was understood, what is asked back, what is refused."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fruitcast.diary.asides import may_be_left
from fruitcast.diary.cold_store import on_hand_by
from fruitcast.diary.crates import AskPlan, planned_hours
from fruitcast.diary.entries import KINDS, kind_named
from fruitcast.diary.entries.kind import Objection, impossible, logs_in_words, question, refused
from fruitcast.diary.entry_faults import faults_of
from fruitcast.diary.events import DEAD_LOGS, INSPECT, SOAK, UNDO, Event, in_force, noted
from fruitcast.diary.limits import Limits, Say
from fruitcast.diary.marks import Parts
from fruitcast.diary.phrases import DAY_EXAMPLES, UNIT_OF_WEIGHT, Phrase, day_in_words
from fruitcast.diary.record_phrase import Given
from fruitcast.diary.sales import highest_prices
from fruitcast.diary.spoken_kind import OTHER_WORDS, left_remark, unknown_kind
from fruitcast.diary.state import StackState
from fruitcast.errors import InputError
from fruitcast.numbers import default_numbers
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


MAX_WORDS = 2500
"""Longest record read. [characters]"""


@dataclass(frozen=True)
class Recorded:
    """A record as understood, not yet written."""

    event: Event  # what would be written
    understood: str  # the same in words
    questions: tuple[str, ...] = ()  # what to ask before writing it; empty when nothing is doubtful
    choices: tuple[str, ...] = ()  # those of them to which 'yes' beforehand is no answer


def limits_of(
    yard: Yard, events: Sequence[Event], stacks: Mapping[str, StackState], today: date
) -> Limits:
    """Return what a record is held against; `events` are the diary that leaves the stacks so."""
    return Limits(
        Say(yard.units),
        default_numbers().with_overrides(yard.numbers),
        stacks,
        today,
        yard.soaking.tank_logs,
        on_hand_by(events, yard.cold_store_days),
        highest_prices(yard, events),
        yard.by_name,
        events,
    )


def parse_record(
    kind: str,
    words: str,
    limits: Limits,
    *,
    outlets: Sequence[str] = (),
    day: date | None = None,
    remark: str = "",
    yes: bool = False,
    plan: AskPlan | None = None,
    aside: list[str] | None = None,
) -> Recorded:
    """Return what a record in words means: of 'pick' and 'A 2 lb 6 oz yesterday'.

    Words that name no day are of `day`, else of today. What was said beside it, the remark, goes
    into the note. With `yes` it is confirmed beforehand: nothing is asked, and only the impossible
    is refused, and what could mean two things. A soak whose words name no hours has those of the
    `plan`. `aside` takes the words that were left aside; without it words that are not understood
    are refused. Raises InputError if the words can't be read or the record can't be true; nothing
    is guessed.
    """
    kind = _kind_of(kind)
    units, today = limits.say.units, limits.today
    how_to = in_own_units(kind_named(kind).how_to, units)
    refuse_long(words)
    phrase = Phrase(words)
    if kind == "release":  # a promise may be to somebody who is no outlet of the yard
        promised = [event.outlet for event in limits.known if event.kind == "promised"]
        outlets = [*dict.fromkeys([*outlets, *promised])]
    given = Given(
        phrase,
        how_to,
        today,
        default_day=day or today,
        units=units,
        outlets=tuple(outlets),
        # Stacks and lots, and the stacks that the lots are parts of
        stacks=tuple(dict.fromkeys([*limits.stacks, *map(stack_of, limits.stacks)])),
        numbers=limits.numbers,
        whole=kind_named(kind).whole,
    )
    with examples_in(units):
        event = kind_named(kind).read(given)
    if event.kg is not None and (unit := UNIT_OF_WEIGHT.search(remark)):
        raise InputError(f"'{unit[0]}': write the whole weight in figures, like '2.5 lb|1.2 kg'.")
    event = replace(event, note=noted(event.note, left_remark(given, kind), remark))
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
    if event.kind == SOAK and event.hours is None and plan and (last := plan()):
        event = replace(event, hours=planned_hours(last, event.stack, event.on))
        given.hints.append("" if event.hours is None else "The hours are the plan's.")
    if faults := faults_of(event):
        raise InputError(f"'{kind} {phrase.given}': {'; '.join(faults)}. {how_to}.")
    recorded = check_record(event, limits, yes=yes)
    told = " ".join(filter(None, (recorded.understood, *given.hints)))
    recorded = replace(recorded, understood=told)
    if not yes:
        questions = (*given.choices, *given.questions, *recorded.questions)
        return replace(recorded, questions=questions, choices=tuple(given.choices))
    if given.choices:
        raise InputError(f"{given.choices[0]} Write it out; nothing was recorded.")
    return recorded


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


def check_record(event: Event, limits: Limits, *, yes: bool = False) -> Recorded:
    """Return an entry that is fit for the diary, with its words and the questions it raises.

    With `yes` it is confirmed beforehand. Raises InputError if it can't be true, NeedsYesError if
    it is refused unless confirmed.
    """
    stacks, units = limits.stacks, limits.say.units
    lots = [state for lot, state in stacks.items() if stack_of(lot) == event.stack]
    living = [lot for lot in lots if lot.logs] or lots
    own = [stacks[event.stack]] if event.stack in stacks else living
    limits = replace(limits, concerned=own)
    objections = objections_to(event, limits)
    for objection in objections:
        if objection.weight == "impossible":
            raise InputError(f"{in_own_units(objection.text, units)}.")
        if objection.weight == "refused" and not yes:
            raise NeedsYesError([o.text for o in objections], describe(event, units))
    understood = describe(event, units)
    if outcome := kind_named(event.kind).outcome(event, limits):
        understood += f" {outcome}"
    if event.stack and event.stack not in stacks and len(limits.concerned) > 1:
        *names, last = (state.name for state in limits.concerned)
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


# Entries put into words for people, and what speaks against them.


def describe(event: Event, units: Units, cancelled: Event | None = None) -> str:
    """Return one sentence that says what an entry records.

    `cancelled` is the entry that an undo cancels, if known.
    """
    earlier = describe(cancelled, units) if cancelled else ""
    return kind_named(event.kind).words(event, Say(units), earlier)


def objections_to(event: Event, limits: Limits) -> list[Objection]:
    """Return what speaks against a record, the gravest first."""
    found = _day(event, limits.today, old_days=limits.numbers.diary.old_days)
    found += _again(event, limits)
    found += kind_named(event.kind).objections(event, limits)
    order = ("impossible", "refused", "question")
    return sorted(found, key=lambda objection: order.index(objection.weight))


def _day(event: Event, today: date, *, old_days: float) -> list[Objection]:
    if event.on > today:
        return refused(
            f"{day_in_words(event.on)} is still to come, today is {day_in_words(today)}. "
            "Record it when it is done"
        )
    if event.picked_on is not None and event.picked_on > event.on:
        return impossible(
            f"Picked on {day_in_words(event.picked_on)} is after {day_in_words(event.on)}. "
            "Give the day of the pick"
        )
    if event.on < today - timedelta(days=int(old_days)):
        return question(f"{day_in_words(event.on)} is long ago. Is the year right?")
    return []


def _again(event: Event, limits: Limits) -> list[Objection]:
    """Ask about what the diary holds already: two who did it together may both write it down."""
    kind = kind_named(event.kind)
    if not kind.twice_is_odd:
        return []
    same = bare(event)
    alike = [
        known
        for known in limits.known
        if known.on == event.on
        and bare(known) == same
        and (not event.uuid or known.uuid != event.uuid)
    ]
    if not alike or not any(known in alike for known in in_force(limits.known)):
        return []
    words = describe(event, limits.say.units).rstrip(".")
    return question(f"{words}: that is in the diary already. {kind.once_more}")


def bare(event: Event) -> Event:
    """Return an entry without what differs when two people write down the same."""
    return replace(event, note="", uuid="", recorded_at=None)


def short_form(event: Event, units: Units, today: date) -> str:
    """Return the words of a command that say an entry: 'pick B 3 lb 27 May'.

    It may not say all of it; whoever shows it reads it first.
    """
    say = Say(units)
    seen = event.kind == INSPECT
    to = event.outlet
    amounts = (
        event.logs is not None and (f"{event.logs} dead" if seen else logs_in_words(event.logs)),
        say.weight(event.kg),
        event.second_kg and f", {say.weight(event.second_kg)} seconds",
        event.lost_kg and event.lost_kg != event.kg and f", {say.weight(event.lost_kg)} lost",
        event.hours is not None and f"{event.hours:g} h",
        event.mm is not None and event.litres is None and say.rain(event.mm),
        event.litres is not None and say.litres(event.litres),
        ", ".join(found for found in event.findings if found != DEAD_LOGS),
        event.into,
        to and f"{kind_named(event.kind).for_outlet} {to}",
        event.paid is not None and f"for ${event.paid:.2f}",
        "" if event.on == today else f"{event.on:%d %b}".lstrip("0"),
    )
    source = f"from {event.stack}" if event.stack and event.kind in ("discard", "sold") else ""
    words = (event.kind, "" if source else event.stack, *filter(None, amounts), source)
    return " ".join(str(word) for word in words if word).replace(" ,", ",")
