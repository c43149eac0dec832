"""What all pages share: the yard's folder, the clock, the planning and who may come in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from flask import g, has_app_context, redirect, request, url_for
from werkzeug.wrappers import Response

from fruitcast.app.serving import Clock, KeptSituation, Situation
from fruitcast.weather.stations import Fetching
from fruitcast.web.access import AccessFile
from fruitcast.web.planner import Planner, Progress, quietly

Answer = str | tuple[str, int] | tuple[str, int, dict[str, str]] | Response
"""What a page answers."""

WRONG_INPUT = 422
"""Status of a form that could not be taken."""


@dataclass(frozen=True)
class Context:
    """What a page may use."""

    folder: Path
    clock: Clock
    access: AccessFile  # passphrase and feed
    planner: Planner | None  # makes new plans; None when nobody does
    _yard: KeptSituation = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_yard", KeptSituation(self.folder, self.clock))

    @property
    def invented(self) -> bool:
        """Whether this is the invented yard beside one's own."""
        return self.folder != self.access.path.parent

    def situation(self, *, look: bool = True) -> Situation:
        """Return the yard as it stands, and with `look` have a plan made if it needs one.

        Several pages made for one request are of one moment: `g.now`.
        """
        if has_app_context() and "now" in g:
            held: Situation = g.now
            return held
        now = self._yard.now()
        if look and self.planner is not None and not now.fresh:
            quietly(self.planner.look)
        return now

    def fetching(self) -> Fetching:
        """Return how a page has station weather: stored, for the planning fetches it."""
        return Fetching(None if self.clock.day else self.clock.now(), offline=True)

    def replan(self) -> None:
        """Have a new plan made."""
        if self.planner is not None:
            quietly(self.planner.request)

    def changed(self, versions: Sequence[str]) -> Response:
        """Lead to what was changed in the yard's files, by the earlier versions kept of them."""
        if versions:
            self.replan()
        return redirect(url_for("change", saved=list(versions) or ["none"]), 303)

    def progress(self) -> Progress:
        """Return how far the planning is."""
        return self.planner.progress if self.planner is not None else Progress()


def sent_file() -> bytes:
    """Return the file that came with a form; nothing where none was chosen."""
    file = request.files.get("file")
    return file.read() if file is not None and file.filename else b""
