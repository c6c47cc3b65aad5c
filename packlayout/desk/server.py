"""The server: one page, one socket, the files that were exported. Nothing else of the disk can be reached."""

import io
import socket
import zipfile
from collections.abc import AsyncGenerator, Callable
from contextlib import asynccontextmanager
from importlib.resources import files

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp
from starlette.websockets import WebSocket, WebSocketDisconnect

from packlayout.desk.files import LAYOUT
from packlayout.desk.guard import REPORT_POLICY, Guard
from packlayout.desk.scene import Scene
from packlayout.desk.session import Desk
from packlayout.desk.table import SETTLE_S, Table
from packlayout.errors import ExportError

PAGES = {
    "": ("index.html", "text/html; charset=utf-8"),
    "desk.js": ("desk.js", "text/javascript; charset=utf-8"),
    "desk.css": ("desk.css", "text/css; charset=utf-8"),
    "icon.svg": ("icon.svg", "image/svg+xml"),
    "licences.txt": ("licences.txt", "text/plain; charset=utf-8"),
}
"""Every file of the page, by name: no path is ever made of what a browser asks for."""

LARGEST_MESSAGE = 64 * 1024
_STATIC = files("packlayout.desk") / "static"


def application(desk: Desk, token: str, port: int, settle_s: float = SETTLE_S) -> tuple[ASGIApp, Table]:
    """The application behind its guard, and the table that pages sit at, where a layout rests for `settle_s`."""
    table, scene = Table(desk, settle_s), Scene(desk.case, desk.catalogue)
    surfaces = scene.surfaces

    async def page(request: Request) -> Response:
        wanted = request.path_params.get("name", "")
        if wanted not in PAGES:
            return PlainTextResponse("not found", 404)
        name, kind = PAGES[wanted]
        return Response((_STATIC / name).read_bytes(), media_type=kind)

    async def scene_json(request: Request) -> Response:
        return JSONResponse(scene.document)

    async def scene_bytes(request: Request) -> Response:
        return Response(surfaces, media_type="application/octet-stream")

    async def pack(request: Request) -> Response:
        return Response(
            packed(desk, table),
            media_type="application/zip",
            headers={"content-disposition": 'attachment; filename="pack.zip"'},
        )

    async def exported(request: Request) -> Response:
        wanted = request.path_params["name"]
        # only what this desk has written itself, by the name it was written under
        if wanted not in {row["name"] for row in table.exported}:
            return PlainTextResponse("not found", 404)
        path = desk.folder / wanted
        if not _within(desk, wanted):
            return PlainTextResponse("not found", 404)
        if wanted.endswith(".html"):
            headers = {"content-security-policy": REPORT_POLICY}
            return Response(path.read_bytes(), media_type="text/html; charset=utf-8", headers=headers)
        name = path.name.encode("ascii", "replace").decode().replace('"', "_")
        return Response(
            path.read_bytes(),
            media_type="application/octet-stream",
            headers={"content-disposition": f'attachment; filename="{name}"'},
        )

    async def talk(connection: WebSocket) -> None:
        await connection.accept()
        who = await table.join(connection.send_text)
        try:
            while True:
                await table.hear(who, await connection.receive_text())
        except (WebSocketDisconnect, KeyError, RuntimeError):
            # closed by the browser, or it sent bytes where text is spoken
            pass
        finally:
            table.leave(who)

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncGenerator[None]:
        yield
        table.close()

    routes = [
        Route("/scene.json", scene_json),
        Route("/scene.bin", scene_bytes),
        Route("/pack.zip", pack),
        Route("/files/{name:path}", exported),
        WebSocketRoute("/talk", talk),
        Route("/", page),
        Route("/{name}", page),
    ]
    inner = Starlette(routes=routes, lifespan=lifespan)
    inner.router.redirect_slashes = False
    return Guard(inner, token, port), table


def packed(desk: Desk, table: Table) -> bytes:
    """The exported files and the layout as one ZIP."""
    buffer = io.BytesIO()
    names = [LAYOUT, *(row["name"] for row in table.exported)]
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in names:
            if _within(desk, name) and (desk.folder / name).is_file():
                archive.write(desk.folder / name, f"{desk.case.key}/{name}")
    return buffer.getvalue()


def _within(desk: Desk, name: str) -> bool:
    """Whether a file, links followed, lies in the folder of results."""
    folder = desk.folder.resolve()
    return (desk.folder / name).resolve().is_relative_to(folder)


def listening(port: int) -> socket.socket:
    """A socket on loopback; port 0: any that is free.

    Raises:
        ExportError: when the port is taken.
    """
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind(("127.0.0.1", port))
    except OSError as error:
        made.close()
        raise ExportError(
            f"port {port} of this machine cannot be used ({error.strerror}); leave --port out and a free one is taken"
        ) from error
    return made


def serve(desk: Desk, token: str, door: socket.socket, ready: Callable[[str], None]) -> None:
    """Serve until interrupted.

    Args:
        desk: With a state.
        token: In the address.
        door: From `listening`.
        ready: Told the address when the page can be opened.
    """
    import uvicorn

    port = door.getsockname()[1]
    app, _ = application(desk, token, port)
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, ws="websockets-sansio", ws_max_size=LARGEST_MESSAGE,
        ws_max_queue=16, server_header=False, date_header=False, timeout_graceful_shutdown=2,
    )  # fmt: skip
    server = uvicorn.Server(config)
    door.listen(64)
    ready(f"http://127.0.0.1:{port}/{token}/")
    server.run(sockets=[door])
