"""Firefox without a driver between: it is spoken to by WebDriver BiDi, the protocol it has built in."""

import base64
import json
import shutil
import subprocess
import tempfile
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

FIREFOX = shutil.which("firefox") or shutil.which("firefox-esr")


@dataclass
class Tab:
    """One tab, and what its console has said."""

    socket: ClientConnection
    context: str = ""
    number: int = 0
    errors: list[str] = field(default_factory=list)

    def tell(self, method: str, **params: Any) -> dict[str, Any]:
        """One command and its result."""
        self.number += 1
        self.socket.send(json.dumps({"id": self.number, "method": method, "params": params}))
        while True:
            document = json.loads(self.socket.recv(timeout=60))
            if document.get("method") == "log.entryAdded" and document["params"]["level"] == "error":
                self.errors.append(str(document["params"]["text"]))
            if document.get("id") == self.number:
                if document["type"] == "error":
                    raise AssertionError(f"{method}: {document['message']}")
                return document["result"]

    def open(self, address: str, width: int = 1400, height: int = 950) -> None:
        """Go to an address in a window of a size."""
        self.context = self.tell("browsingContext.create", type="tab")["context"]
        viewport = {"width": width, "height": height}
        self.tell("browsingContext.setViewport", context=self.context, viewport=viewport)
        self.tell("browsingContext.navigate", context=self.context, url=address, wait="complete")

    def find(self, expression: str) -> Any:
        """The value of a JavaScript expression, text or a number."""
        found = self.tell(
            "script.evaluate", expression=expression, awaitPromise=True, target={"context": self.context}
        )
        if found["type"] != "success":
            raise AssertionError(str(found["exceptionDetails"]["text"]))
        return found["result"].get("value")

    def until(self, expression: str, seconds: float = 20.0) -> None:
        """Wait for an expression to be true."""
        script = (
            "new Promise((done, fail) => { const end = performance.now() + %d; const look = () => "
            "(%s) ? done(true) : performance.now() > end ? fail(new Error('waited in vain')) : setTimeout(look, 50);"
            " look(); })"
        )
        self.find(script % (1000 * seconds, expression))

    def middle(self, selector: str) -> tuple[float, float]:
        """Where the middle of an element is in the window."""
        box = f"document.querySelector({json.dumps(selector)})"
        self.find(f"{box}.scrollIntoView({{block: 'center'}})")
        x, y = json.loads(
            self.find(
                f"(() => {{ const b = {box}.getBoundingClientRect(); "
                "return JSON.stringify([b.x + b.width / 2, b.y + b.height / 2]); })()"
            )
        )
        return x, y

    def drag(self, start: tuple[float, float], *stops: tuple[float, float]) -> None:
        """Press, move and let go; no stop at all is a click."""
        moves = [{"type": "pointerMove", "x": round(x), "y": round(y), "duration": 40} for x, y in stops]
        steps = [
            {"type": "pointerMove", "x": round(start[0]), "y": round(start[1])},
            {"type": "pointerDown", "button": 0},
            *moves,
            {"type": "pointerUp", "button": 0},
        ]
        actions = [{"type": "pointer", "id": "mouse", "actions": steps}]
        self.tell("input.performActions", context=self.context, actions=actions)

    def press(self, *keys: str) -> None:
        """Keys one after the other."""
        steps = [{"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]
        actions = [{"type": "key", "id": "keys", "actions": steps}]
        self.tell("input.performActions", context=self.context, actions=actions)

    def picture(self) -> bytes:
        """The window as PNG."""
        return base64.b64decode(self.tell("browsingContext.captureScreenshot", context=self.context)["data"])


@contextmanager
def firefox() -> Generator[Tab]:
    """A headless Firefox with a profile of its own while the block runs."""
    assert FIREFOX is not None
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        # the picture in space is drawn by the processor here, which Firefox does not do unless it is told to
        Path(profile, "user.js").write_text('user_pref("webgl.force-enabled", true);\n')
        command = [FIREFOX, "--headless", "--no-remote", "--profile", profile, "--remote-debugging-port", "0"]
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        try:
            assert process.stderr is not None
            line = next(line for line in process.stderr if "WebDriver BiDi listening on" in line)
            address = line.split("listening on", 1)[1].strip()
            with connect(f"{address}/session", max_size=None) as socket:
                tab = Tab(socket)
                tab.tell("session.new", capabilities={})
                tab.tell("session.subscribe", events=["log.entryAdded"])
                yield tab
        finally:
            process.kill()
            process.wait(20)
