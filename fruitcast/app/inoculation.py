"""Inoculation: a programme of yearly batches, or one batch drawn and accepted as a stack."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from fruitcast.app.changed_model import numbers_of
from fruitcast.app.changing import Texts, change
from fruitcast.app.choosing import DEFAULT_SEED
from fruitcast.app.doubts import doubts_of_batch
from fruitcast.app.known import KnownYard, horizon_days, read_known
from fruitcast.app.publication import fingerprint, last_plan, publish
from fruitcast.atomic import write_atomically
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.errors import (
    Fault,
    FaultsError,
    FruitcastError,
    InputError,
    NoPlanError,
    OutputError,
)
from fruitcast.forecast.outlook import outlook
from fruitcast.inoculation.answers import Accepted, BatchAnswer, ProgrammeAnswer
from fruitcast.inoculation.batch import (
    BatchPlan,
    BatchSpec,
    batch_faults,
    batch_to_stack,
    plan_batch,
)
from fruitcast.inoculation.costs import priced
from fruitcast.inoculation.problem import DEFAULT_YEARS, Asked, LogKind
from fruitcast.inoculation.programme import (
    OUTLOOK_WEEKS,
    Programme,
    available_kinds,
    plan_programme,
)
from fruitcast.outputs.care import batch_care, young_calendars
from fruitcast.outputs.drilling_drawing import draw_pattern
from fruitcast.outputs.inoculation_document import batch_document, programme_document
from fruitcast.progress import Progress, silent
from fruitcast.tables.values import WEEKDAYS, WrongValueError, weekday
from fruitcast.topics import SpawnForm, StrainClass, Tool
from fruitcast.units import parse_length, parse_weight
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard import stacks
from fruitcast.yard.keys import NO_OUTLET
from fruitcast.yard.model import Outlet, Stack, Yard
from fruitcast.yard.reading import read_yard
from fruitcast.yard.stacks import parse_stacks, tree_fault, tree_notes
from fruitcast.yard.stacks_text import append_stack, are_alike, with_stack


@dataclass(frozen=True)
class Wish:
    """What a programme is asked for."""

    # Like 'Saturday market=6 kg' for an outlet of the yard, or 'Sat=6 kg' for a day of the week on
    # which nobody buys yet; 0 leaves an outlet out.
    targets: tuple[str, ...] = ()
    wanted_from: date | None = None  # sales before it don't count
    years: int = DEFAULT_YEARS
    chance: float | None = None  # share of the sales to be met; the yard's promise when None [0..1]
    tool: Tool = "drill"  # for the holes
    inoculate: bool = True  # whether to inoculate at all


@dataclass(frozen=True)
class ProgrammeMade:
    """A programme with what it was made from."""

    known: KnownYard
    programme: Programme
    document: ProgrammeAnswer


def make_programme(
    folder: Path,
    today: date,
    wish: Wish,
    *,
    seed: int = DEFAULT_SEED,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> ProgrammeMade:
    """Return the smallest programme of inoculations for a yard; nothing is written.

    Raises InputError if the yard, its weather or a target cannot be read; NoPlanError if there is
    no outlet, no log to be had, or no soak day.
    """
    progress("reading yard and weather")
    days = horizon_days(OUTLOOK_WEEKS)
    known = read_known(folder, today, days, fetching=fetching, progress=progress)
    yard, numbers = known.yard, known.numbers
    outlets = served_outlets(yard, wish.targets)
    kinds, soak_cost = priced(
        available_kinds(yard), yard, wish.tool, numbers.work, numbers.inoculation
    )
    progress("looking at what stands")
    standing = outlook(
        yard,
        known.state,
        known.weather,
        today,
        known.years,
        (),
        weeks=OUTLOOK_WEEKS,
        seed=seed,
        numbers=numbers,
    )
    programme = plan_programme(
        standing,
        known.weather,
        Asked(
            kinds=kinds,
            outlets=outlets,
            wanted_from=wish.wanted_from or today,
            chance=yard.promise if wish.chance is None else wish.chance,
            years=wish.years,
            inoculate=wish.inoculate,
            soak_cost=soak_cost,
        ),
        seed=seed,
        numbers=numbers,
        progress=progress,
    )
    document = programme_document(programme, wish.tool, known.warnings, numbers)
    return ProgrammeMade(known, programme, document)


def served_outlets(yard: Yard, targets: Sequence[str]) -> tuple[Outlet, ...]:
    """Return the outlets with other targets, and with those that are new.

    `targets` as in `Wish`; a bare weight is in the yard's units. Raises InputError if a target
    cannot be read or names nobody.
    """
    outlets = {outlet.name: outlet for outlet in yard.outlets}
    for text in targets:
        name, sign, amount = (part.strip() for part in text.rpartition("="))
        if not sign or not name or not amount:
            raise InputError(
                f"--for {text!r}: an outlet and a weight are wanted. Write for instance "
                "--for 'Saturday market=6 kg'."
            )
        try:
            kg = parse_weight(amount, yard.units)
        except InputError as error:
            raise InputError(f"--for {text!r}: {error}") from None
        outlet = _outlet_called(name, outlets, yard, text)
        outlets[outlet.name] = replace(outlet, target_kg=kg)
    found = tuple(outlet for outlet in outlets.values() if outlet.target_kg > 0)
    if targets and not found:
        raise InputError("No outlet is left with a target. Give at least one more than 0.")
    return found


def _outlet_called(name: str, outlets: dict[str, Outlet], yard: Yard, text: str) -> Outlet:
    """Return an outlet by its name, or a new one by its day of the week.

    A new one opens in the season of those that the yard has, else in the soaking season.
    """
    known = {outlet.casefold(): outlet for outlet in outlets}
    if name.casefold() in known:
        return outlets[known[name.casefold()]]
    try:
        day = weekday(name)
    except WrongValueError:
        have = f"no outlet is called {name!r}. The yard has {', '.join(outlets)}; a"
        raise InputError(
            f"--for {text!r}: {have if outlets else f'{NO_OUTLET} Or a'} day of the week, like "
            "--for 'Sat=6 kg', stands for a new one."
        ) from None
    like = yard.outlets[0] if yard.outlets else yard.soaking
    return Outlet(
        name=f"{WEEKDAYS[day]} sale",
        weekday=day,
        target_kg=0.0,
        first=like.first,
        last=like.last,
        price_per_kg=None,
        weight=1.0,
        closed=frozenset(),
    )


# Inoculation: one batch looked at, drawn, and accepted as a stack of the yard.

NAMELESS = "New batch"
"""What a batch is called that is only looked at."""

OPTIONS = {
    "name": "--accept",
    "strain_class": "--class",
    "tree": "--tree",
    "logs": "--logs",
    "diameter": "--diameter",
    "length": "--length",
    "spawn": "--spawn",
    "tool": "--tool",
    "along": "--along",
    "between": "--between",
    "end_distance": "--end",
    "inoculated": "--on",
}
"""The option of the command line that gives each field of a batch."""

_MOST_YEARS_AWAY = 10
_DAYS_AHEAD = 365  # a batch only asks for past years; each must be whole


@dataclass(frozen=True)
class BatchWish:
    """A batch in the grower's words; None for what is to be as usual in the yard."""

    strain_class: StrainClass
    tree: str
    logs: int
    # Sizes like '5 in'; a bare number is in inches or centimetres, as the yard's units are.
    diameter: str | None = None
    length: str | None = None
    spawn: SpawnForm | None = None
    strain: str = ""  # free text for stacks.csv, as is the note
    tool: Tool = "drill"  # for the holes
    inoculated: date | None = None  # day of inoculation; the site's next good one when None
    along: str | None = None
    between: str | None = None
    end: str | None = None
    seal_ends: bool = False  # whether the cut ends are waxed too
    note: str = ""


@dataclass(frozen=True)
class Batch:
    """A batch that was looked at, and what was written of it."""

    known: KnownYard
    plan: BatchPlan
    document: BatchAnswer
    messages: tuple[str, ...] = ()  # what was written where

    @property
    def stack(self) -> Stack:
        """The stack that it becomes."""
        return batch_to_stack(self.plan)

    @property
    def drawing(self) -> str:
        """The drawing of its holes, SVG."""
        spec, units = self.plan.spec, self.known.yard.units
        title = f"{spec.name}, {spec.strain_class} on {spec.tree}, {spec.spawn} spawn"
        bit, depth = self.known.numbers.inoculation.hole(spec.spawn)
        return draw_pattern(self.plan.pattern, bit, depth, units, title)


def look_at_batch(
    folder: Path,
    today: date,
    wish: BatchWish,
    *,
    drawing: Path | None = None,
    accept: str | None = None,
    name: str = NAMELESS,
    called: Mapping[str, str] = OPTIONS,
    seed: int = DEFAULT_SEED,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> Batch:
    """Return what a batch takes, when it bears and what it gives.

    `drawing` is where to write the drawing of the holes. As the stack named `accept` it goes into
    stacks.csv, and its dates into the calendar of the plan last published; one only looked at is
    called `name`. By `called` the grower knows the fields of `OPTIONS`: it is the place of a fault.
    Raises InputError if something about yard, weather or batch cannot be; OutputError if a file
    cannot be written; the message says what was written before.
    """
    progress("reading yard and weather")
    known = read_known(folder, today, _DAYS_AHEAD, fetching=fetching)
    spec = batch_spec(known.yard, wish, name if accept is None else accept, called)
    faults = batch_faults(spec, known.yard.units, called)
    on, of_tree = spec.inoculated, tree_fault(spec.tree, known.numbers.trees)
    if on is not None and abs(on.year - today.year) > _MOST_YEARS_AWAY:
        problem = f"{on} lies more than {_MOST_YEARS_AWAY} years from today"
        remedy = "Give the day of inoculation, this spring's or the next."
        faults.append(Fault(called["inoculated"], problem, remedy))
    if of_tree:
        faults.append(Fault(called["tree"], *of_tree))
    if faults:
        raise FaultsError(faults)
    progress("following the batch through past years")
    plan = plan_batch(spec, known.yard, known.weather, today, seed=seed, numbers=known.numbers)
    numbers = known.numbers
    turn_days = numbers.inoculation.turn_days
    care = batch_care(batch_to_stack(plan), plan, today, turn_days=turn_days)
    doubts = doubts_of_batch(plan, known.yard, known.numbers)
    document = batch_document(
        plan,
        numbers.inoculation,
        today=today,
        care=care,
        drawing=None if drawing is None else str(drawing),
        warnings=(*tree_notes([spec.tree], known.numbers.trees), *doubts, *known.warnings),
    )
    found = Batch(known, plan, document)
    messages: list[str] = []
    # The drawing first: it is what can fail, and is put back if the stack can't be added.
    with _drawn(drawing, found):
        if accept is not None:
            accepted, messages = _accept(known, plan, seed)
            document = document.model_copy(update={"accepted": accepted})
    if drawing is not None:
        messages.append(f"The holes are drawn in {drawing.absolute()}: print it at 100 %.")
    return replace(found, document=document, messages=tuple(messages))


def add_batch(folder: Path, stack: Stack, today: date, moment: datetime) -> tuple[str, ...]:
    """Add a batch that was seen to stacks.csv, and return the earlier versions kept.

    A batch that stands there already, since it was handed in before, is not added again.

    Raises InputError if there is another stack of that name, or the file can't take it; OutputError
    if it can't be written.
    """
    numbers = numbers_of(read_yard(folder, today))

    def edit(texts: Texts) -> Texts:
        try:
            return texts._replace(stacks=with_stack(texts.stacks, stack, numbers)[0])
        except InputError:
            if any(are_alike(known, stack) for known in parse_stacks(texts.stacks, numbers)[0]):
                return texts
            raise

    return change(folder, today, moment, edit)


def batch_spec(
    yard: Yard, wish: BatchWish, name: str, called: Mapping[str, str] = OPTIONS
) -> BatchSpec:
    """Return a batch in SI units, with what is usual in the yard where nothing was said.

    Raises InputError if a size cannot be read, or is neither given nor known of the yard.
    """

    def metres(field: str, text: str | None) -> float | None:
        if text is None:
            return None
        try:
            return parse_length(text, yard.units)
        except InputError as error:
            raise InputError(f"{called[field]}: {error}") from None

    tree = " ".join(wish.tree.split()).lower()
    diameter, length = metres("diameter", wish.diameter), metres("length", wish.length)
    spawn = wish.spawn
    if diameter is None or length is None or spawn is None:
        usual = _usual_logs(yard, tree, wish.strain_class, called)
        diameter = usual.diameter if diameter is None else diameter
        length = usual.length if length is None else length
        spawn = spawn or usual.spawn
    return BatchSpec(
        name=name,
        strain_class=wish.strain_class,
        tree=tree,
        logs=wish.logs,
        diameter=diameter,
        length=length,
        spawn=spawn,
        strain=wish.strain,
        tool=wish.tool,
        inoculated=wish.inoculated,
        along=metres("along", wish.along),
        between=metres("between", wish.between),
        end_distance=metres("end_distance", wish.end),
        seal_ends=wish.seal_ends,
        note=wish.note,
    )


def _usual_logs(yard: Yard, tree: str, strain_class: str, called: Mapping[str, str]) -> LogKind:
    """Return the yard's logs that are most like those of a batch."""
    try:
        kinds = available_kinds(yard)
    except NoPlanError:
        three = f"{called['diameter']}, {called['length']} and {called['spawn']}"
        raise InputError(f"{three}: nothing is usual in this yard yet. Give all three.") from None

    def unlike(kind: LogKind) -> tuple[bool, bool]:
        return kind.tree != tree, kind.strain_class != strain_class

    return min(kinds, key=unlike)


@contextmanager
def _drawn(file: Path | None, batch: Batch) -> Iterator[None]:
    """Write the drawing; if what follows fails, put back what was there before."""
    if file is None:
        yield
        return
    before = file.read_bytes() if file.is_file() else None
    write_atomically(file, batch.drawing.encode("utf-8"))
    try:
        yield
    except FruitcastError:
        if before is None:
            file.unlink(missing_ok=True)
        else:
            write_atomically(file, before)
        raise


def _accept(known: KnownYard, plan: BatchPlan, seed: int) -> tuple[Accepted, list[str]]:
    """Write the batch into stacks.csv and, where a plan is published, its dates into it."""
    yard, today = known.yard, known.today
    file = yard.folder / stacks.FILE
    published = last_plan(yard, today)
    inputs = fingerprint(yard)  # of before: the plan that stands knows nothing of the new stack
    row = append_stack(file, batch_to_stack(plan), known.numbers)
    messages = [f"Added to {file}: {row}"]
    if published is None:
        messages.append("'fruitcast plan' brings its dates into the calendar.")
        return Accepted(file=str(file), row=row, calendar=None), messages
    try:
        after = read_yard(yard.folder, today)
        # As it stands in the file, sizes rounded: the next plan comes to the same dates.
        stack = after.stacks[-1]
        calendars = young_calendars([stack], after, known.weather, today, seed, known.numbers)
        turn_days = known.numbers.inoculation.turn_days
        care = batch_care(stack, calendars[stack.name], today, turn_days=turn_days)
        care = [entry.model_copy(update={"logs": stack.logs}) for entry in care]
        plan_with = published.with_care(care)
        files = publish(plan_with, after, read_yard_state(after, today), today, inputs)
    except (InputError, OutputError) as error:
        raise OutputError(
            f"{messages[0]}. Its dates could not be brought into the calendar: {error} "
            "'fruitcast plan' brings them; don't accept it once more."
        ) from error
    calendar = next(path for path in files if path.suffix == ".ics")
    messages.append(f"{len(care)} dates of its care are in {calendar}.")
    return Accepted(file=str(file), row=row, calendar=str(calendar)), messages
