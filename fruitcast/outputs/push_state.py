"""What the last push left on a calendar server, kept between pushes."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field

from fruitcast.errors import InputError


@dataclass(frozen=True)
class PushedEvent:
    """One event as the last push left it.

    Attributes
    ----------
    title : str
        Its title.
    etag : str
        Entity tag of the resource on the server.
    face : str
        Digest of what a person sees of it.
    past : bool
        Whether it was done: then it stays on the server when we drop it.
    """

    title: str
    etag: str
    face: str
    past: bool


@dataclass(frozen=True)
class PushState:
    """All events as the last push left them, by UID, at one calendar's address.

    Attributes
    ----------
    address : str
        The calendar.
    events : dict of str to PushedEvent
        What it holds of ours.
    begun : dict of str to PushedEvent or None
        What a push that was stopped midway may have written besides, without entity tags; None
        is an event that it may have deleted.
    """

    address: str
    events: dict[str, PushedEvent] = field(default_factory=dict)
    begun: dict[str, PushedEvent | None] = field(default_factory=dict)

    def to_json(self) -> str:
        """Return the state as a JSON text; it holds no password."""
        events = {uid: asdict(pushed) for uid, pushed in sorted(self.events.items())}
        begun = {uid: pushed and asdict(pushed) for uid, pushed in sorted(self.begun.items())}
        document = {"address": self.address, "events": events, "begun": begun}
        return json.dumps(document, ensure_ascii=False, indent=1)

    @classmethod
    def from_json(cls, text: str) -> PushState:
        """Return the state written by `to_json`.

        Raises
        ------
        InputError
            If the text is not such a state.
        """
        try:
            document = json.loads(text)
            events = {uid: PushedEvent(**entry) for uid, entry in document["events"].items()}
            begun = {
                uid: None if entry is None else PushedEvent(**entry)
                for uid, entry in document["begun"].items()
            }
            pushed = [*events.values(), *(event for event in begun.values() if event)]
            texts = [document["address"], *(event.etag for event in pushed)]
            texts += [text for event in pushed for text in (event.title, event.face)]
            texts += [*events, *begun]
            if not all(isinstance(text, str) for text in texts):
                raise TypeError("a value is no text")
            "".join(texts).encode()  # half a letter can be read from JSON and never be kept again
            return cls(document["address"], events, begun)
        except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
            raise InputError(
                "The stored state of the calendar server cannot be read "
                f"({type(error).__name__}: {error}). Every event is compared with the server "
                "instead; what differs there is pushed over with --overwrite only."
            ) from error
