"""A whole fixed rotation at once, which the hindcast takes week by week."""

from __future__ import annotations

from fruitcast.hindcast.policies import CYCLE_WEEKS, first_turns, take_turns
from fruitcast.soaks.problem import Plan, Problem


def nine_week(problem: Problem, weeks: int = CYCLE_WEEKS) -> Plan:
    """Return the rotation that begins today: each log every so many weeks."""
    return take_turns(problem, first_turns(problem, weeks))[0]
