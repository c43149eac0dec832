"""Draws tied to what they belong to, and the parts of them that flushes share.

A flush's yield is the table's times a part of the yard, of its strain class on its tree, of
its stack, of its season, and one of its own; a lead time has a part of the yard, of its class
and of its own. Members of a plan take what all stacks have in common, evenly spread; fresh
paths draw every part.
"""

from __future__ import annotations

import hashlib
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property, lru_cache
from math import gcd
from typing import Any

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.spread import (
    PartsLearned,
    balanced,
    evened,
    expected_factor,
    normal_scores,
    root,
)
from fruitcast.topics import SpreadNumbers
from fruitcast.yard.model import Stack

# Random draws tied to what they belong to, so that nothing else can change them.
#
# A draw is fixed by the seed, the weather year, a name (what the stack is like) and the date.
# Other stacks, other members, their order, or planning a day later leave it as it was.


def standard_normals(
    seed: int,
    years: tuple[int, ...],
    name: str,
    first: date,
    rows: npt.ArrayLike,
    *,
    even: bool = False,
) -> FloatArray:
    """Return a standard normal draw for each date and weather year: (day, member).

    By the plan's seed, the weather year of each member, what the draw is for, and days counted from
    `first`, (day,). Spread evenly over the members if wanted, see `spread.evened`.
    """
    rows = np.asarray(rows, dtype=np.int64)
    drawn = np.empty((len(rows), len(years)))
    for year, mine, of_year in _by_year(first, rows.tobytes()):
        drawn[mine] = _draws_of_year(seed, years, name, year, even)[of_year]
    return drawn


@lru_cache(maxsize=64)
def _by_year(first: date, rows: bytes) -> list[tuple[int, BoolArray, IntArray]]:
    """Return each calendar year that rows fall in, which do, and their days of that year."""
    day = np.datetime64(first, "D") + np.frombuffer(rows, dtype=np.int64)
    new_year = day.astype("datetime64[Y]")
    of_year = (day - new_year.astype("datetime64[D]")).astype(np.int64)
    calendar = new_year.astype(np.int64) + 1970
    years = [(int(year), calendar == year) for year in np.unique(calendar)]
    return [(year, mine, of_year[mine]) for year, mine in years]


def keyed_generator(*key: object) -> np.random.Generator:
    """Return a source of draws that is fixed by what it is for."""
    words = hashlib.blake2b("|".join(map(str, key)).encode(), digest_size=16).digest()
    return np.random.Generator(np.random.Philox(key=np.frombuffer(words, dtype=np.uint64)))


@lru_cache(maxsize=256)
def _draws_of_year(
    seed: int, years: tuple[int, ...], name: str, year: int, even: bool
) -> FloatArray:
    """Return the draws for all days of one calendar year; planning again asks for them again."""
    drawn = np.stack([_draws_of_member(seed, each, name, year) for each in years], axis=1)
    if even:
        drawn = evened(drawn)
    drawn.flags.writeable = False
    return drawn


@lru_cache(maxsize=2048)
def _draws_of_member(seed: int, weather_year: int, name: str, year: int) -> FloatArray:
    """Return one member's draws for a calendar year; each past year held out asks for them."""
    drawn = keyed_generator(seed, weather_year, name, year).standard_normal(366)
    drawn.flags.writeable = False
    return drawn


@lru_cache(maxsize=256)
def order_of_members(seed: int, years: tuple[int, ...], name: str) -> IntArray:
    """Return a random order of the members, in which one more moves the others by a place.

    0 to members - 1, each once, by the plan's seed, the weather year of each member and what the
    order is for.
    """
    keys = [f"{seed}|{year}|{name}|{years[:n].count(year)}" for n, year in enumerate(years)]
    drawn = [hashlib.blake2b(key.encode(), digest_size=8).digest() for key in keys]
    order = np.empty(len(years), dtype=np.int64)
    order[sorted(range(len(years)), key=drawn.__getitem__)] = np.arange(len(years))
    order.flags.writeable = False
    return order


def order_across(index: FloatArray, seed: int, name: str) -> IntArray:
    """Return an order of the members that has nothing to do with how good their weather is.

    Along the weather the places go in equal steps round the circle, so that good and bad
    weather meet good and bad luck alike; seed and name turn the circle. As `order_of_members`, by
    how good each member's weather is, in any unit.
    """
    members = len(index)
    step = round(0.618 * members)
    while gcd(step, members) != 1:
        step += 1
    word = hashlib.blake2b(f"{seed}|{name}".encode(), digest_size=8).digest()
    turn = int.from_bytes(word) % members
    rank = np.argsort(np.argsort(index, kind="stable"))
    return np.asarray((step * rank + turn) % members)


# The parts that flushes share: how much of each is known, and what members and paths take.

Part = tuple[str, str]
"""What kind of part, and of what: ('stack', 'A')."""

Case = tuple[Part, ...]
"""The shared parts of one flush."""

YARD: Part = ("yard", "")


def yield_case(stack: Stack, season: int | None) -> Case:
    """Return the parts of a stack's yield in a season; None leaves the season out."""
    return wood_case(stack.strain_class, stack.tree, stack.name, season)


def wood_case(strain_class: str, tree: str, stack: str, season: int | None) -> Case:
    """Return the parts of a yield; a stack without a name is one that isn't there yet."""
    case = (YARD, ("class and tree", f"{strain_class} on {tree}"), ("stack", stack))
    return case if season is None else (*case, ("season", str(season)))


def lead_case(strain_class: str) -> Case:
    """Return the parts of a lead time."""
    return (YARD, ("class", strain_class))


@dataclass(frozen=True)
class SharedParts:
    """What is known of the parts of a yield, or of a lead time."""

    names: tuple[Part, ...]  # the parts that something is known of
    # (part,): of each part's logarithm, before it is set to a mean factor of one [unitless]
    mean: FloatArray
    covariance: FloatArray  # (part, part):  [unitless]
    # Standard deviation of the log of a part of each kind before anything is known, and that of the
    # flush's own [unitless]
    spread: Mapping[str, float]

    @classmethod
    def unknown(cls, spread: Mapping[str, float]) -> SharedParts:
        """Return parts of which nothing is known."""
        return cls((), np.zeros(0), np.zeros((0, 0)), spread)

    def knowing(self, found: PartsLearned) -> SharedParts:
        """Return the same parts after learning."""
        return replace(self, mean=found.mean, covariance=found.covariance)

    @cached_property
    def variance(self) -> FloatArray:
        """Of each part before anything is known. [unitless]"""
        return np.array([self.spread[kind] ** 2 for kind, _ in self.names], dtype=float)

    @property
    def flush_variance(self) -> float:
        """Of the flush's own part. [unitless]"""
        return self.spread["flush"] ** 2

    def including(self, cases: Iterable[Case]) -> SharedParts:
        """Return the same with the parts of some cases besides, nothing being known of those."""
        wanted = dict.fromkeys(part for case in cases for part in case)
        more = tuple(part for part in wanted if part not in self._place)
        if not more:
            return self
        count, size = len(self.names), len(self.names) + len(more)
        covariance = np.zeros((size, size))
        covariance[:count, :count] = self.covariance
        new = np.arange(count, size)
        covariance[new, new] = [self.spread[kind] ** 2 for kind, _ in more]
        mean = np.concatenate([self.mean, np.zeros(len(more))])
        return replace(self, names=self.names + more, mean=mean, covariance=covariance)

    @cached_property
    def _place(self) -> dict[Part, int]:
        return {name: at for at, name in enumerate(self.names)}

    def shares(self, cases: Sequence[Case]) -> FloatArray:
        """Return 1 where a part has a share in a case: (case, part)."""
        found = np.zeros((len(cases), len(self.names)))
        rows = [row for row, case in enumerate(cases) for _ in case]
        found[rows, [self._place[part] for case in cases for part in case]] = 1.0
        return found

    def factors(self, cases: Sequence[Case]) -> FloatArray:
        """Return what to expect of each case over the table. [unitless]"""
        known = self.including(cases)
        return known.factors_of(known.shares(cases))

    def factors_of(self, shares: FloatArray) -> FloatArray:
        """Return the same of cases told by `shares`. [unitless]"""
        return expected_factor(
            shares,
            mean=self.mean,
            covariance=self.covariance,
            prior_variance=self.variance,
        )

    def shifted(self, factor: float) -> SharedParts:
        """Return the same of a yard that gives so many times as much."""
        known = self.including([(YARD,)])
        return replace(known, mean=known.mean + np.log(factor) * known.shares([(YARD,)])[0])

    def come_true(self, cases: Iterable[Case], rng: np.random.Generator) -> SharedParts:
        """Return the parts of some cases drawn with all that is known of them, and then sure."""
        known = self.including(cases)
        drawn = known.mean + root(known.covariance) @ rng.standard_normal(len(known.names))
        return replace(known, mean=drawn, covariance=np.zeros_like(known.covariance))

    def common(self, cases: Sequence[Sequence[Case]], weights: FloatArray) -> FloatArray:
        """Return the covariance of what all stacks have in common: (season, season).

        By the cases of every stack in each season, and its weight in the mean, adding up to 1.
        """
        known = self.including(case for season in cases for case in season)
        mean = np.array([weights @ known.shares(season) for season in cases])
        return np.asarray(mean @ known.covariance @ mean.T)

    def own_variance(self, cases: Sequence[Case], weights: FloatArray) -> FloatArray:
        """Return what each stack varies beyond what all have in common: (stack,)."""
        known = self.including(cases)
        shares = known.shares(cases)
        own = shares - weights @ shares
        return np.asarray(((own @ known.covariance) * own).sum(axis=1))

    def draw(
        self, cases: Sequence[Case], weights: FloatArray, paths: int, rng: np.random.Generator
    ) -> FloatArray:
        """Return the factor of each case over the table on fresh paths: (path, case).

        Every part is drawn with all that is known of it; along what the cases have in common,
        weighed by weights that add up to 1, the draws are evenly spread.
        """
        known = self.including(cases)
        shares, lower = known.shares(cases), root(known.covariance)
        normal = rng.standard_normal((len(known.names), paths))
        along = lower.T @ (weights @ shares)
        length = float(np.sqrt(along @ along))
        if length > 0:
            unit = along / length
            even = normal_scores(paths)[rng.permutation(paths)]
            normal = normal + np.outer(unit, even - unit @ normal)
        log = shares @ (known.mean[:, None] + lower @ normal)
        return np.asarray(np.exp(log - (shares @ known.variance)[:, None] / 2).T)


def yields_unknown(spread: SpreadNumbers) -> SharedParts:
    """Return the parts of the yield before anything is known."""
    return SharedParts.unknown(
        {
            "yard": spread.yield_yard,
            "class and tree": spread.yield_class_tree,
            "stack": spread.yield_stack,
            "season": spread.yield_season,
            "flush": spread.yield_flush,
        }
    )


def leads_unknown(spread: SpreadNumbers) -> SharedParts:
    """Return the parts of the lead time before anything is known."""
    return SharedParts.unknown(
        {
            "yard": spread.lead_yard,
            "class": spread.lead_class,
            "flush": spread.lead_flush,
        }
    )


@dataclass(frozen=True)
class Luck:
    """What weather doesn't explain, as one kind of logs has it in each member."""

    # (member,): what all stacks' lead times have in common, of mean one [unitless]
    leads: FloatArray
    # yield_log_sd, lead_log_sd: spread of the log of what each flush has for itself [unitless]
    yield_log_sd: float
    lead_log_sd: float
    shared_log_sd: float  # spread of the log of what all stacks' yields have in common [unitless]
    fails: float  # chance that a soak brings nothing though the weather suits [0..1]

    def of_first_member(self) -> Luck:
        """Return the same with the first member's luck in all."""
        return replace(self, leads=np.full_like(self.leads, self.leads[0]))


@dataclass(frozen=True)
class FreshParts:
    """Every part drawn anew on fresh paths, each lasting as long as it does in a yard."""

    # (path, season, stack): yield of a stack's flushes over the table's, what each flush has for
    # itself left out [unitless]
    yields: FloatArray
    leads: FloatArray  # (path, stack): the same of the warmth from pull to first pick [unitless]
    fails: FloatArray  # (path,): chance that a soak brings nothing though the weather suits [0..1]
    # yield_flush, lead_flush: spread of the log of what each flush has for itself, see
    # `spread.multiplier` [unitless]
    yield_flush: float
    lead_flush: float


@dataclass(frozen=True)
class YardParts:
    """What is known of the parts, for the stacks of one yard and the seasons looked at."""

    # yields, leads: what is known
    yields: SharedParts
    leads: SharedParts
    # Beta distribution of the chance that a soak brings nothing though the weather suits
    failure: tuple[float, float]
    stacks: tuple[Stack, ...]  # the stacks, at least one
    # (stack,): each one's share of the logs: what all have in common is the mean over logs
    share: FloatArray
    seasons: tuple[int, ...]  # growing seasons looked at, the present one first, and the one after

    @cached_property
    def _cases(self) -> list[list[Case]]:
        return [[yield_case(stack, season) for stack in self.stacks] for season in self.seasons]

    @cached_property
    def _leads(self) -> list[Case]:
        return [lead_case(stack.strain_class) for stack in self.stacks]

    @cached_property
    def by_season(self) -> FloatArray:
        """Mean yield of each season over the first one's, whose own part is forgotten."""
        expected = np.array([self.share @ self.yields.factors(cases) for cases in self._cases])
        return np.asarray(expected / expected[0])

    def fresh(self, paths: int, seed: int) -> FreshParts:
        """Return all parts drawn anew for some paths, with all that is known of them.

        What all stacks have in common in the present season is evenly spread over the paths,
        in the yield as in the lead time; the chance of failure is a draw of its beta. Draws of
        the flushes themselves, and which soaks fail, are the caller's. The seed is never that of a
        plan.
        """
        rng = np.random.default_rng([seed, paths])
        cases = [case for season in self._cases for case in season]
        first = np.concatenate([self.share, np.zeros(len(cases) - len(self.share))])
        yields = self.yields.draw(cases, first, paths, rng)
        return FreshParts(
            yields.reshape(paths, len(self.seasons), len(self.stacks)),
            self.leads.draw(self._leads, self.share, paths, rng),
            rng.beta(*self.failure, size=paths),
            self.yields.spread["flush"],
            self.leads.spread["flush"],
        )

    def shared_yields(self, weather: FloatArray, seed: int) -> FloatArray:
        """Return what all stacks' yields have in common in each member: (season, member).

        Of mean one over the members in the first season. By how good each member's weather is, in
        any unit; the seed is that of the members' order.
        """
        names = [f"yield of season {n}" for n in range(len(self.seasons))]
        order = np.array([order_across(weather, seed, name) for name in names])
        good = _even(self.yields.common(self._cases, self.share), order)
        return good * self.by_season[:, None]

    def lucks(
        self, kinds: Sequence[Hashable], years: tuple[int, ...], seed: int
    ) -> dict[Any, Luck]:
        """Return each kind's luck, in order of first appearance, by the kind of each stack.

        `years` are the members' weather years; the seed is that of their order.
        """
        order = order_of_members(seed, years, "lead time")
        slow = _even(self.leads.common([self._leads], self.share), order[None])[0]
        yields = self.yields.own_variance(self._cases[0], self.share) + self.yields.flush_variance
        leads = self.leads.own_variance(self._leads, self.share) + self.leads.flush_variance
        shared = float(np.sqrt(self.yields.common(self._cases[:1], self.share)[0, 0]))
        fails = self.failure[0] / sum(self.failure)
        found = {}
        for kind in dict.fromkeys(kinds):
            mine = np.array([other == kind for other in kinds])
            weight = np.where(mine, np.maximum(self.share, 1e-9), 0.0)
            weight = weight / weight.sum()
            own, lead = float(np.sqrt(weight @ yields)), float(np.sqrt(weight @ leads))
            found[kind] = Luck(slow, own, lead, shared, fails)
        return found


def usual_luck(
    yields: SharedParts, leads: SharedParts, fails: float, years: tuple[int, ...], seed: int
) -> tuple[Luck, FloatArray]:
    """Return the luck of logs still to be inoculated, in typical seasons.

    The yard's part as far as it is known, a season's of which nothing is known, evenly spread
    over the members; what a class, its tree and a stack have for themselves is as wide as in
    any yard. One luck for all kinds, and what all stacks' yields have in common, (member,), of mean
    one. `fails` is the chance that a soak brings nothing; years and seed as in `YardParts.lucks`.
    """
    one = np.ones(1)
    season: Case = (YARD, ("season", "usual"))
    good, slow = (
        _even(parts.common([[case]], one), order_of_members(seed, years, name)[None])
        for parts, case, name in ((yields, season, "usual season"), (leads, (YARD,), "lead time"))
    )
    own = [yields.spread[kind] for kind in ("class and tree", "stack", "flush")]
    lead_own = [leads.spread[kind] for kind in ("class", "flush")]
    shared = float(np.sqrt(yields.common([[season]], one)[0, 0]))
    luck = Luck(slow[0], float(np.linalg.norm(own)), float(np.linalg.norm(lead_own)), shared, fails)
    return luck, good[0]


def _even(covariance: FloatArray, order: IntArray) -> FloatArray:
    """Return factors of mean one over the members, evenly spread, in some order of them each."""
    drawn = np.exp(balanced(order, covariance))
    return np.asarray(drawn / drawn.mean(axis=1, keepdims=True))
