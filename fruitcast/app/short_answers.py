"""What the commands without a use case of their own to tell of print as JSON.

They stand apart from `welcome`, which answers at once because it loads so little.
"""

from __future__ import annotations

from datetime import date

from pydantic import Field

from fruitcast.diary.plan import Plan
from fruitcast.document import Document
from fruitcast.progress import Step


class Welcomed(Document):
    """What 'fruitcast --json' prints."""

    state: tuple[str, ...] = Field(description="sentences on the folder")
    next: tuple[Step, ...] = Field(description="what can be done, the most needed first")


class DemoMade(Document):
    """What 'demo --json' prints."""

    folder: str
    today: date
    calendar: str = Field(description="the calendar's file")
    plan: Plan
    next: tuple[Step, ...]


class PageServed(Document):
    """What 'serve --json' prints; then it runs until it is stopped."""

    listening: str
    page: str
    feed: str | None
    passphrase: bool = Field(description="whether one is set")


class AccessChanged(Document):
    """What 'serve --set-passphrase --json' and 'serve --new-feed --json' print."""

    done: tuple[str, ...]


class CompletionScript(Document):
    """What 'completion --json' prints."""

    shell: str
    script: str
