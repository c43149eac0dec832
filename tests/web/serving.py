"""A server in a thread of this process, whose application the test can look into."""

from __future__ import annotations

import threading
from typing import Any

from flask import Flask


class Serving:
    """Serves an application on a free port of this machine until it is closed.

    Attributes
    ----------
    page : str
        Its address.
    """

    def __init__(self, app: Flask) -> None:
        from waitress import create_server

        self._sockets: dict[int, Any] = {}
        self._server = create_server(app, self._sockets, host="127.0.0.1", port=0, threads=4)
        self.page = f"http://127.0.0.1:{self._server.effective_port}"
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Close all in the thread that waits for it: else it would wait for what is gone."""
        from waitress.wasyncore import close_all

        self._server.task_dispatcher.shutdown()
        trigger = self._server.trigger
        with trigger.lock:  # whoever else wakes it closes the trigger under our hands
            trigger.thunks.append(lambda: close_all(self._sockets))
            trigger.pull_trigger()
        self._thread.join(30)
        assert not self._thread.is_alive()
