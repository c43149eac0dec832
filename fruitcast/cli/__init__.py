"""The command line: it parses, makes one call, and shows. No decisions are made here."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Sequence
from datetime import datetime

_YOUNG = 200_000
"""Objects made before garbage is looked for."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its code: 0 done, 1 could not, 2 wrong usage, 3 see DOUBTFUL."""
    # What a command loads stays until it ends; looking through it again and again, and once more at
    # the end, takes a fifth of the time of a short one.
    gc.set_threshold(_YOUNG)
    atexit.register(gc.freeze)
    # None is wanted, and to look for one reads of every library installed what it offers.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    from fruitcast.cli.commands import load
    from fruitcast.cli.session import COMPLETE_VARIABLE, Session, StoppedError
    from fruitcast.errors import FruitcastError

    for stream in (sys.stdout, sys.stderr):
        # A terminal that knows no degree sign shows a question mark, not a traceback.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    if COMPLETE_VARIABLE in os.environ:
        from typer.completion import completion_init

        completion_init()
    session = Session(clock=datetime.now().astimezone())
    typed = sys.argv[1:] if argv is None else ()
    try:
        load(typed)(args=None if argv is None else list(argv), prog_name="fruitcast", obj=session)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else int(stop.code is not None)
    except FruitcastError as error:
        session.complain(error)
    except (KeyboardInterrupt, StoppedError) as stop:
        session.say(f"Stopped. {stop}".rstrip())
        return 130
    except Exception as error:  # a fault of ours: still one message, and the way to tell more
        session.complain_of_ourselves(error)
    else:
        return 0
    return 1
