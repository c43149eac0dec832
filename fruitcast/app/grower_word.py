"""The grower's word: understood, held against the rules, its cost told, written down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from pydantic import Field

from fruitcast.app.choosing import (
    PlanBeside,
    as_it_stands,
    beside_published,
    build,
    less_delivered,
    mended,
)
from fruitcast.app.known import KnownYard, horizon_days, read_known
from fruitcast.app.publication import last_plan, sale_in
from fruitcast.app.recording import DiaryEntry, understand, write_records
from fruitcast.diary.entries.word import day_meant
from fruitcast.diary.events import Event
from fruitcast.diary.plan import Covered, Decision, Plan, Word
from fruitcast.diary.recording import Recorded
from fruitcast.diary.state import StackState, YardState
from fruitcast.diary.state_from_diary import read_yard_state, yard_state
from fruitcast.document import Day, Document, Number
from fruitcast.errors import InputError
from fruitcast.forecast.stacks import Hold
from fruitcast.outputs.week import sale_words
from fruitcast.outputs.what_if_words import NO_DIFFERENCE
from fruitcast.soaks.answer import is_too_unlikely, promise_doubt
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import soak_outcome
from fruitcast.soaks.reasons import hold_words
from fruitcast.soaks.sale_days import TABLE
from fruitcast.soaks.soak_days import cares
from fruitcast.units import SHOWN_AS_NONE_KG, Units, format_weight
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.words import MONTHS, day_words
from fruitcast.yard.model import stack_of
from fruitcast.yard.reading import read_yard


class WordInForce(Word):
    """One word of the grower that holds."""

    kg: Number | None = None
    words: str


class WordsInForce(Document):
    """What 'fixed --json' prints."""

    words: tuple[WordInForce, ...]


class WordCost(Document):
    """What a word costs, by a quick search beside the published plan."""

    kg: Number = Field(description="less reaches outlets or table over the season; below 0 more")
    outlet: str = Field(description="where most of it goes missing; empty when nowhere")
    on: Day | None
    outlet_kg: Number


class WordGiven(Document):
    """What 'fix', 'hold', 'release' and 'promised' print with --json."""

    recorded: tuple[DiaryEntry, ...]
    cost: WordCost | None = Field(description="null for a promise, given or taken off")
    said: str = Field(
        default="", description="what the last plan says of a sale that was promised; else empty"
    )


def words_in_force(folder: Path, today: date) -> WordsInForce:
    """Return what the grower has fixed, kept back and promised, in order of stack."""
    yard = read_yard(folder, today)
    return WordsInForce(words=tuple(_words(read_yard_state(yard, today), yard.units, today)))


def _words(state: YardState, units: Units, today: date) -> list[WordInForce]:
    found = []
    for name, stack in _said_of(state):
        if stack.fixed:
            day, hours = stack.fixed
            length = f" for {hours:g} h" if hours else ""
            words = f"{name}: next soak on {day_words(day, today)}{length}."
            found.append(WordInForce(kind="fix", stack=name, on=day, hours=hours, words=words))
        elif stack.held_since:
            free = stack.held_until
            until = f"until {day_words(free, today)}" if free else "this season"
            words = f"{name}: kept out of the tank {until}."
            found.append(WordInForce(kind="hold", stack=name, on=free, words=words))
    for outlet, day, kg in state.promised:
        words = f"{outlet}: {format_weight(kg, units)} promised for {day_words(day, today)}."
        found.append(WordInForce(kind="promised", outlet=outlet, on=day, kg=kg, words=words))
    return found


def _said_of(state: YardState) -> Iterator[tuple[str, StackState]]:
    """Yield whom a word may be said of: lots of which the same was said as their whole stack."""
    told: set[str] = set()
    for name, stack in state.stacks.items():
        base = stack_of(name)
        lots = [state.stacks[lot] for lot in _lots(state, base)]
        if base != name and all(_said(lot) == _said(stack) for lot in lots):
            name = base
        if name not in told:
            told.add(name)
            yield name, stack


def _said(stack: StackState) -> tuple[object, ...]:
    since = None if stack.held_until else stack.held_since
    return stack.fixed, stack.held_since is None, stack.held_until, since


def _lots(state: YardState, stack: str) -> list[str]:
    """Return a stack or lot, or all lots of a stack."""
    return [name for name in state.stacks if stack in (name, stack_of(name))]


def understand_word(
    folder: Path,
    today: date,
    words: Sequence[str],
    *,
    fetching: Fetching = AS_USUAL,
    yes: bool = False,
) -> tuple[Recorded, WordCost | None, Units]:
    """Return what a word means with what is to be asked, and its cost; nothing is written.

    With `yes` it is confirmed beforehand. Raises InputError if it can't be read, or a hard rule
    forbids it: the rule is named.
    """
    read = understand(folder, today, words, yes=yes)
    if len(read) != 1:
        raise InputError("One word at a time: give one stack.")
    (recorded,) = read
    units = read_yard(folder, today).units
    if recorded.event.outlet:
        return recorded, None, units
    known = as_it_stands(read_known(folder, today, horizon_days(), fetching=fetching))
    before, after = build(known), build(with_word(known, recorded.event))
    rule = forbidden(before, after, recorded.event.stack)
    if rule:
        raise InputError(f"{recorded.event.stack} can't be soaked then: {rule}. Nothing was fixed.")
    asked = [] if yes else [f"{care}. Fix it all the same?" for care in new_cares(before, after)]
    here = mended(beside_published(known, before))
    cost = _cost(mended(here), mended(here, after))
    return replace(recorded, questions=(*recorded.questions, *asked)), cost, units


def with_word(known: KnownYard, event: Event) -> KnownYard:
    """Return what is known with one more entry in the diary."""
    from fruitcast.diary.book import read_events

    events = (*read_events(known.yard.diary_file), event)
    state = yard_state(known.yard, events, known.today)
    same = known.state
    return replace(known, state=replace(state, published=same.published, unplanned=same.unplanned))


def forbidden(before: BuiltProblem, after: BuiltProblem, said: str) -> str:
    """Return the hard rule that a word about one stack breaks; empty if it breaks none."""
    for name in after.fixed.refused:
        if name not in before.fixed.refused:
            if said not in (name, stack_of(name)):
                return f"no room is left beside {name}, which you have fixed"
            return _rule(after, name)
    return ""


def _rule(built: BuiltProblem, name: str) -> str:
    rule = built.fixed.refused[name]
    if not isinstance(rule, Hold):
        return rule
    return hold_words(rule, next(s for s in built.outlook.stacks if s.name == name))


def new_cares(before: BuiltProblem, after: BuiltProblem) -> list[str]:
    """Return what speaks against the soaks that a word has newly fixed, though no rule does."""
    fixed_before = {stack.name: stack.state.fixed for stack in before.outlook.stacks}
    least, found = after.outlook.numbers.schedule.bears_in, []
    for index, stack in enumerate(after.outlook.stacks):
        soak = after.fixed.kept.get(stack.name)
        if soak is None or stack.state.fixed == fixed_before.get(stack.name):
            continue
        found += cares(stack, soak, after.outlook)
        forced = after.outlook.kinds[stack.kind].forced.kg[soak] > 0
        comes = soak_outcome(after, index, (soak,), 0).comes
        if forced.mean() >= least > comes.mean():
            found.append(
                f"Most likely {stack.name} fruits by itself before, or its logs are not rested: "
                "little would come of it"
            )
    return found


def _cost(before: PlanBeside, after: PlanBeside) -> WordCost:
    """Return what a word costs."""
    missing = less_delivered(before, after)
    total = sum(missing.values())
    if -NO_DIFFERENCE * before.built.problem.demand < total < 0:
        # Two plans for one yard may differ by as much: no gain.
        total = 0.0
    worst = max(missing, key=lambda sale: missing[sale], default=None)
    if worst is None or missing[worst] < SHOWN_AS_NONE_KG:
        return WordCost(kg=total, outlet="", on=None, outlet_kg=0.0)
    return WordCost(kg=total, outlet=worst[0], on=worst[1], outlet_kg=missing[worst])


def decisions(
    known: KnownYard, here: PlanBeside, plan: Plan, *, seed: int, promise: float | None = None
) -> tuple[Decision, ...]:
    """Return each word in force, whether the plan keeps it, and what it costs.

    The cost is what a plan near this one would bring more with only that word taken back, all
    stacks looking for other days: the same that was told when it was said, but for search luck.

    `here` is the plan, `plan` the same as it is told.
    """
    start: PlanBeside | None = None
    as_said: PlanBeside | None = None
    broken = {(s.outlet, s.on): s for s in plan.outlets if s.given_kg and is_too_unlikely(s)}
    found = []
    for word in _words(known.state, known.yard.units, known.today):
        refused = here.built.fixed.refused.keys() & set(_lots(known.state, word.stack))
        kept = not refused and (word.outlet, word.on) not in broken
        cost = None
        if kept:
            without = replace(known, state=_without(known.state, word))
            built = build(without, weeks=plan.weeks, seed=seed, promise=promise)
            start = start or mended(here)
            as_said = as_said or mended(start)
            cost = _cost(mended(start, built), as_said)
        if cost:
            said = cost_words(cost, known.yard.units)
        else:
            sale = broken.get((word.outlet, word.on)) if word.on else None
            said = promise_doubt(sale, known.yard.units)
        most = cost and cost.on and Covered(outlet=cost.outlet, on=cost.on, kg=cost.outlet_kg)
        found.append(
            Decision.taken_from(
                word,
                kept=kept,
                cost_kg=cost.kg if cost else None,
                most=most or None,
                words=f"{word.words} {said}",
            )
        )
    return tuple(found)


def _without(state: YardState, word: WordInForce) -> YardState:
    """Return the state of a yard whose grower has not said one thing."""
    if word.kind == "promised":
        given = (word.outlet, word.on, word.kg)
        return replace(state, promised=tuple(one for one in state.promised if one != given))
    free = {
        name: replace(state.stacks[name], fixed=None, held_since=None, held_until=None)
        for name in _lots(state, word.stack)
    }
    return replace(state, stacks={**state.stacks, **free})


def cost_words(cost: WordCost, units: Units) -> str:
    """Return what a word costs as a sentence."""
    where = "" if cost.outlet == TABLE else f" for {cost.outlet}"
    worst = ""
    if cost.on is not None:
        when = "in the week before" if cost.outlet == TABLE else "on"
        worst = f"{format_weight(cost.outlet_kg, units)} less{where} {when} {day_words(cost.on)}"
    if cost.kg <= -SHOWN_AS_NONE_KG:
        than = f", but {worst}" if worst else ""
        return f"It brings about {format_weight(-cost.kg, units)} more{than}."
    if cost.kg < SHOWN_AS_NONE_KG:
        return f"It costs nothing to speak of{f', but {worst}' if worst else ''}."
    mostly = f", mostly {worst}" if worst else ""
    return f"It costs about {format_weight(cost.kg, units)}{mostly}."


def write_word(
    folder: Path, today: date, recorded: Recorded, cost: WordCost | None, moment: datetime
) -> WordGiven:
    """Write a word into the diary."""
    written = write_records(folder, today, [recorded], moment)
    said = promise_words(folder, today, recorded.event) if recorded.event.outlet else ""
    return WordGiven(recorded=written.recorded, cost=cost, said=said)


def taken_off(event: Event) -> str:
    """Return the words that take a promise off; empty for any other word."""
    day = day_meant(event) if event.kind == "promised" else None
    return f"release {event.outlet} {day.day} {MONTHS[day.month - 1]}" if day else ""


def promise_words(folder: Path, today: date, event: Event) -> str:
    """Return what the last plan says of a promise; empty where it says nothing of that sale."""
    yard, on = read_yard(folder, today), day_meant(event)
    plan = last_plan(yard, today)
    sale = sale_in(plan, event.outlet, on)
    if not plan or not sale or event.kg is None:
        return ""
    words = sale_words(sale.model_copy(update={"given_kg": event.kg}), yard.units)
    return f"By the plan of {day_words(plan.today)}: {words}."
