"""A real desk server in a thread of the test, and one that speaks to it like a page."""

import json
import threading
import time
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass
from math import inf
from typing import Any
from urllib.parse import urlsplit

from websockets.sync.client import ClientConnection, connect
from websockets.typing import Origin

from packlayout.desk.guard import new_token
from packlayout.desk.server import application, listening
from packlayout.desk.session import Desk
from packlayout.desk.table import SETTLE_S


@contextmanager
def served(desk: Desk, *, calculating: bool = False) -> Generator[str]:
    """The address of a desk that is served while the block runs.

    The whole calculation takes a process and some ten seconds of a processor for each layout: it begins only where
    it is asked for, so that it neither slows a page that is not about it nor changes what that page shows.
    """
    import uvicorn

    door, token = listening(0), new_token()
    port = door.getsockname()[1]
    app, _ = application(desk, token, port, SETTLE_S if calculating else inf)
    config = uvicorn.Config(
        app, log_level="critical", ws="websockets-sansio", ws_max_size=65536, timeout_graceful_shutdown=1
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield f"http://127.0.0.1:{port}/{token}/"
    finally:
        server.should_exit = True
        thread.join(10)
        door.close()


@dataclass
class Page:
    """What a page does, without a browser."""

    socket: ClientConnection
    seq: int = 0
    revision: int = 0

    def hear(self, kind: str, wait: float = 20.0) -> dict[str, Any]:
        """The next message of a kind."""
        while True:
            document = json.loads(self.socket.recv(timeout=wait))
            if document["t"] == "state":
                self.revision = document["revision"]
            if document["t"] == kind:
                return document

    def ask(self, op: str, base: int | None = None, **what: Any) -> dict[str, Any]:
        """Send an operation and get its answer."""
        self.seq += 1
        self.socket.send(
            json.dumps({"op": op, "seq": self.seq, "base": self.revision if base is None else base, **what})
        )
        while True:
            document = json.loads(self.socket.recv(timeout=20))
            if document["t"] == "state":
                self.revision = document["revision"]
            if document.get("ack") == self.seq:
                return document


@contextmanager
def page(address: str) -> Generator[Page]:
    """A page that is open while the block runs."""
    parts = urlsplit(address)
    with connect(
        f"ws://{parts.netloc}{parts.path}talk",
        origin=Origin(f"http://{parts.netloc}"),
        max_size=None,
    ) as socket:
        opened = Page(socket)
        opened.hear("state")
        yield opened
