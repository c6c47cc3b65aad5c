"""The way in: loopback only, a token in the address, Host and Origin checked before anything else is done."""

import secrets
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = ("127.0.0.1", "localhost")

POLICY = "; ".join(
    (
        "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' data:", "font-src 'self'",
        "connect-src 'self' {sockets}", "base-uri 'none'", "form-action 'none'", "frame-ancestors 'none'",
    )
)  # fmt: skip
"""What the page may load: nothing but its own files and its own socket; no inline script, no inline style."""

REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; sandbox allow-downloads"
)
"""The report is one file with its styles and pictures in it; it may run no script at all."""


def new_token() -> str:
    """A token nobody can guess."""
    return secrets.token_urlsafe(24)


class Guard:
    """Lets through what comes from the page itself, by its address, and nothing else."""

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        """Guard an application.

        Args:
            app: What is guarded; it sees paths without the token.
            token: First step of every path.
            port: The server's own.
        """
        self.app, self.token = app, token
        self.hosts = {f"{host}:{port}" for host in LOOPBACK}
        self.origins = {f"http://{host}" for host in self.hosts}
        sockets = " ".join(f"ws://{host}" for host in sorted(self.hosts))
        self.policy = POLICY.format(sockets=sockets)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            if scope["type"] == "websocket":
                # closing before accepting answers the handshake with 403
                await send({"type": "websocket.close", "code": 1008})
            else:
                await refusal(scope, receive, self._hardened(send))
            return
        path = scope["path"].removeprefix(f"/{self.token}")
        await self.app({**scope, "path": path, "raw_path": path.encode()}, receive, self._hardened(send))

    def _refusal(self, scope: Scope) -> Response | None:
        headers = [(name.lower(), value.decode("latin-1")) for name, value in scope["headers"]]
        hosts, origins = _all(headers, b"host"), _all(headers, b"origin")
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return PlainTextResponse("this server answers on this machine only", 421)
        # a page that is opened sends no Origin; a socket always does
        if scope["type"] == "websocket" and not origins:
            return PlainTextResponse("no origin", 403)
        if any(origin not in self.origins for origin in origins):
            return PlainTextResponse("wrong origin", 403)
        if origins and urlsplit(origins[0]).netloc != hosts[0].lower():
            return PlainTextResponse("wrong origin", 403)
        first = scope["path"].split("/", 2)[1] if scope["path"].startswith("/") else ""
        if not secrets.compare_digest(first.encode(), self.token.encode()):
            return PlainTextResponse("not found: open the address that `packlayout desk` printed", 404)
        if scope["type"] == "http" and scope["method"] not in ("GET", "HEAD"):
            return PlainTextResponse("only reading is allowed here", 405)
        return None

    def _hardened(self, send: Send) -> Send:
        async def hardened(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = {name.lower() for name, _ in message["headers"]}
                extra = {
                    b"content-security-policy": self.policy, b"x-content-type-options": "nosniff",
                    b"referrer-policy": "no-referrer", b"cache-control": "no-store", b"x-frame-options": "DENY",
                    b"cross-origin-opener-policy": "same-origin", b"cross-origin-resource-policy": "same-origin",
                    b"permissions-policy": "camera=(), microphone=(), geolocation=()",
                }  # fmt: skip
                more = [(name, value.encode()) for name, value in extra.items() if name not in given]
                message = {**message, "headers": [*message["headers"], *more]}
            await send(message)

        return hardened


def _all(headers: Iterable[tuple[bytes, str]], name: bytes) -> list[str]:
    return [value for key, value in headers if key == name]
