"""What if one stack were soaked on a day of the grower's choice? Nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

from fruitcast.app.beside import PlanBeside, as_it_stands, beside_published, with_room
from fruitcast.app.choosing import DEFAULT_SEED, build, choose
from fruitcast.app.grower_word import forbidden, new_cares, with_word
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard, read_known
from fruitcast.app.recording import understand
from fruitcast.app.what_if import differing_soaks
from fruitcast.diary.entries.word import day_meant
from fruitcast.diary.events import Event
from fruitcast.errors import InputError
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.outputs.what_if_words import SoakTriedOut
from fruitcast.progress import Progress, silent
from fruitcast.soaks.answer import sales_tried, soak_dates_of, soak_tried
from fruitcast.soaks.fresh_paths import fresh_ledger


def try_soak(
    folder: Path,
    today: date,
    words: Sequence[str],
    *,
    whole: bool = False,
    seed: int = DEFAULT_SEED,
    now: datetime | None = None,
    offline: bool = False,
    progress: Progress | None = None,
) -> SoakTriedOut:
    """Return what a soak would bring and take, beside the plan as it is.

    Parameters
    ----------
    folder : Path
        The yard's folder.
    today : date
        The day.
    words : sequence of str
        'F', 'tuesday', '24', 'h': as after 'fix'.
    whole : bool
        Whether both plans are searched at length and tried on fresh luck, as a published plan is;
        else what stands is mended round the soak, which takes a moment.
    seed : int
        Seed of all random draws.
    now, offline
        See `app.known.read_weather`.
    progress : callable, optional
        Told in words what is being done.

    Raises
    ------
    InputError
        If stack or day can't be read.
    """
    tell = progress or silent
    read = understand(folder, today, ["fix", *words])
    if len(read) != 1:
        raise InputError("One soak at a time: give one stack and a day.")
    event = read[0].event
    ahead = days_ahead(DEFAULT_WEEKS, tail_days=default_numbers().schedule.tail_days)
    known = as_it_stands(read_known(folder, today, ahead, now=now, offline=offline))
    asked = [_without_question(words) for words in read[0].questions]
    tell("weighing it")
    return weigh_soak(
        known, with_word(known, event), event, asked=asked, whole=whole, seed=seed, progress=tell
    )


def _without_question(words: str) -> str:
    """Return what the diary would ask as what speaks against it: nothing is asked here."""
    return words.removesuffix(" Fix it all the same?").removesuffix(" Is it right?").rstrip(".")


def weigh_soak(
    known: KnownYard,
    other: KnownYard,
    event: Event,
    *,
    asked: Sequence[str] = (),
    whole: bool = False,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    progress: Progress | None = None,
) -> SoakTriedOut:
    """Return what a soak would bring and take, from what is known without and with it.

    Parameters
    ----------
    known, other : KnownYard
        What is known, and the same with the soak fixed.
    event : Event
        The entry that would fix it.
    asked : sequence of str
        What the diary would ask about it.

    See `try_soak` for the other parameters.
    """
    before, after = build(known, weeks=weeks, seed=seed), build(other, weeks=weeks, seed=seed)
    rule = forbidden(before, after, event.stack)
    if whole and not rule:
        sides = _searched(known, weeks, seed, progress), _searched(other, weeks, seed, progress)
    else:
        here = beside_published(known, before)
        sides = here, (here if rule else with_room(here, after))
    return _tried(known, event, sides, rule, [*asked, *new_cares(before, after)], whole)


def _searched(known: KnownYard, weeks: int, seed: int, progress: Progress | None) -> PlanBeside:
    built, plan, _ = choose(known, weeks=weeks, seed=seed, progress=progress)
    return PlanBeside(built, plan, fresh_ledger(built, plan).delivered.mean(axis=1))


def _tried(
    known: KnownYard,
    event: Event,
    sides: tuple[PlanBeside, PlanBeside],
    rule: str,
    cares: Sequence[str],
    whole: bool,
) -> SoakTriedOut:
    here, there = sides
    built, problem = there.built, there.built.problem
    were = {stack.name: stack.state.fixed for stack in here.built.outlook.stacks}
    tried = [
        index
        for index, stack in enumerate(built.outlook.stacks)
        if stack.name in built.fixed.kept and stack.state.fixed != were.get(stack.name)
    ]
    before, after = (soak_dates_of(side.built.problem, side.paths) for side in sides)
    on = day_meant(event)
    assert on is not None
    return SoakTriedOut(
        today=known.today,
        units=known.yard.units,
        sells=known.yard.sells,
        stack=event.stack,
        on=on,
        hours=event.hours,
        forbidden=rule,
        cares=tuple(cares),
        whole=whole,
        soaks=() if rule else tuple(soak_tried(built, n, there.paths[n]) for n in tried),
        sales=sales_tried(problem, there.delivered - here.delivered),
        other_soaks=differing_soaks(before, after),
    )
