"""One thing to do that the weather or the diary asks for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

JobKind = Literal["cover", "pick twice", "inspect", "weigh", "retire"]

DAYS_AHEAD = 7
"""Days from today for which jobs are listed, unless the forecast reaches further. [day]"""


@dataclass(frozen=True)
class Job:
    """One thing to do, with its reason.

    Attributes
    ----------
    kind : str
        'cover', 'pick twice', 'inspect', 'weigh' or 'retire'.
    stack : str
        Stack or lot.
    on, until : date
        First and last day.
    reason : str
        Why.
    """

    kind: JobKind
    stack: str
    on: date
    until: date
    reason: str
