"""What all pages share: the yard's folder, the clock, the planning and who may come in."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from werkzeug.wrappers import Response

from fruitcast.app.serving import Clock, KeptSituation, Situation
from fruitcast.web.access import AccessFile
from fruitcast.web.planner import Planner, Progress, quietly

Answer = str | tuple[str, int] | Response
"""What a page answers."""

WRONG_INPUT = 422
"""Status of a form that could not be taken."""


@dataclass(frozen=True)
class Context:
    """What a page may use.

    Attributes
    ----------
    folder : Path
        The yard's folder.
    clock : Clock
        What time it is.
    access : AccessFile
        Passphrase and feed.
    planner : Planner or None
        Makes new plans; None when nobody does.
    """

    folder: Path
    clock: Clock
    access: AccessFile
    planner: Planner | None
    _yard: KeptSituation = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_yard", KeptSituation(self.folder, self.clock))

    def situation(self) -> Situation:
        """Return the yard as it stands, and have a plan made if it needs one."""
        now = self._yard.now()
        if self.planner is not None and not now.fresh:
            quietly(self.planner.look)
        return now

    def replan(self) -> None:
        """Have a new plan made."""
        if self.planner is not None:
            quietly(self.planner.request)

    def progress(self) -> Progress:
        """Return how far the planning is."""
        return self.planner.progress if self.planner is not None else Progress()
