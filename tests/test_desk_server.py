"""The desk's server: who is let in, what a page may say, what it is told. No browser, but the real server."""

import http.client
import io
import json
import socket
import zipfile
from collections.abc import Callable, Generator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from packlayout.desk.operations import put_in
from packlayout.desk.server import listening
from packlayout.desk.session import Desk
from packlayout.errors import ExportError
from packlayout.model.layout import Layout
from packlayout.study import made_items
from tests.desk_servers import page, served
from tests.desks import desk, layout
from tests.workshop_files import BRIEF, FILES

Make = Callable[..., Path]
HOSTILE = "<img src=x onerror=alert(1)>'\"/../"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("shop")
    for name, text in FILES.items():
        file = root / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text)
    (root.parent / "secret.txt").write_text("secret")
    return root


@pytest.fixture(scope="module")
def made(shop: Path) -> Desk:
    return desk(shop)


@pytest.fixture(scope="module")
def address(made: Desk) -> Generator[str]:
    with served(made, calculating=True) as address:
        yield address


def get(
    address: str, path: str = "", method: str = "GET", **headers: str
) -> tuple[int, dict[str, str], bytes]:
    """One request, its path as it is."""
    parts = urlsplit(address)
    connection = http.client.HTTPConnection(parts.netloc, timeout=20)
    connection.putrequest(method, parts.path + path, skip_host="Host" in headers)
    for name, value in headers.items():
        connection.putheader(name, value)
    connection.endheaders()
    answer = connection.getresponse()
    return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()


# by hand


def test_a_page_drags_a_part_and_reads_the_axle_load(address: str) -> None:
    with page(address) as tab:
        began = tab.ask("begin", target="Hartle M30 motor")
        assert began["t"] == "begun"
        first = tab.ask("move", at=[180, -120, 400])
        second = tab.ask("move", at=[280, -120, 400])
        gain = second["loads"][0]["axle"][1][0] - first["loads"][0]["axle"][1][0]
        assert gain == pytest.approx(38 * 100 / 2300, abs=1e-9)
        after = tab.ask("commit")
        assert after["undo"] == "moved Hartle M30 motor"
        assert next(t for t in after["things"] if t["name"] == "Hartle M30 motor")["lo"] == [280, -120, 400]
        back = tab.ask("undo")
        assert back["redo"] == "moved Hartle M30 motor"


def test_an_overlap_turns_its_check_to_failed_and_first(address: str) -> None:
    with page(address) as tab:
        tab.ask("begin", target="Hartle M30 motor")
        held = tab.ask("move", at=[0, -120, 400])
        assert held["near"][0]["verdict"] == "fail"
        assert held["near"][0]["distance"] < 0
        state = tab.ask("commit")
        assert state["checks"][0]["verdict"] == "fail"
        assert any("Hartle M30 motor" in c["title"] for c in state["checks"] if c["verdict"] == "fail")
        tab.ask("undo")


def test_the_other_tab_is_told_and_its_late_edit_is_refused(address: str) -> None:
    with page(address) as one, page(address) as two:
        seen = two.revision
        one.ask("nudge", target="Wick 3 charger", by=[0, 5, 0])
        late = two.ask("turn", base=seen, target="Wick 3 charger", quarters=1)
        assert late["t"] == "refused"
        assert "changed elsewhere" in late["why"]
        assert two.hear("state")["revision"] == one.revision
        assert two.ask("undo")["t"] == "state"


def test_the_whole_calculation_comes_in_by_itself(address: str, made: Desk) -> None:
    with page(address) as tab:
        for _ in range(40):
            if made.study is not None:
                break
            tab.hear("state", 60)
        state = tab.ask("nudge", target="Wick 3 charger", by=[0, 0, 0])
        assert made.rest.made
        for _ in range(5):
            if state["whole"]:
                break
            state = tab.hear("state", 60)
        assert made.study is not None
        assert state["made_kg"] == pytest.approx(sum(i.mass.value for i in made_items(made.study)), abs=1e-3)
        assert (state["outdated"], state["drawn"]) == ([], 1)
        assert any(c["id"].startswith("frame.") for c in state["checks"])
        tab.ask("undo")


def test_locked_parts_stay_where_they_are_when_it_is_solved_again(address: str, made: Desk) -> None:
    with page(address) as tab:
        tab.ask("put", target="Wick 3 charger", at=[2503.25, -61.5, 333])
        tab.ask("lock", target="Wick 3 charger", locked=True)
        assert tab.ask("solve")["t"] == "ok"
        assert "stop it first" in tab.ask("solve")["why"]
        found: list[dict[str, object]] = []
        while not found:
            found = [row for row in tab.hear("tray", 120)["layouts"] if row["source"] == "search"]
        assert tab.ask("stop")["t"] == "ok"
        things = {t["name"]: t for t in found[0]["things"]}  # type: ignore[attr-defined]
        assert things["Wick 3 charger"]["lo"] == [2503.25, -61.5, 333]
        assert things["Wick 3 charger"]["locked"] is True
        state = tab.ask("take", number=found[0]["number"])
        assert next(t for t in state["things"] if t["name"] == "Wick 3 charger")["lo"] == [
            2503.25,
            -61.5,
            333,
        ]
        assert tab.ask("discard", number=found[0]["number"])["t"] == "ok"
        for _ in range(3):
            tab.ask("undo")


@pytest.mark.slow
def test_the_pack_is_written_and_can_be_fetched(address: str, made: Desk) -> None:
    with page(address) as tab:
        assert tab.ask("export")["t"] == "ok"
        files = tab.hear("files", 240)["files"]
        while not files:
            files = tab.hear("files", 240)["files"]
    names = {row["name"] for row in files}
    assert {"assembly.step", "checks.json", "report.html"} <= names
    status, headers, body = get(address, "pack.zip")
    assert status == 200
    held = {Path(name).name for name in zipfile.ZipFile(io.BytesIO(body)).namelist()}
    assert held == {Path(name).name for name in names} | {"desk-layout.yaml"}
    status, headers, _ = get(address, "files/report.html")
    assert (status, "sandbox" in headers["content-security-policy"]) == (200, True)
    # a link put in a file's place leads out of the folder of results: it is neither shown nor packed
    report = made.folder / "report.html"
    report.unlink()
    report.symlink_to(made.case.root.parent / "secret.txt")
    assert get(address, "files/report.html")[0] == 404
    _, _, body = get(address, "pack.zip")
    assert "report.html" not in {Path(n).name for n in zipfile.ZipFile(io.BytesIO(body)).namelist()}
    report.unlink()


# refusal


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Host": "packlayout.example"}, 421),
        ({"Host": "127.0.0.1"}, 421),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
    ],
)
def test_a_foreign_host_or_origin_is_refused(address: str, headers: dict[str, str], status: int) -> None:
    assert get(address, **headers)[0] == status
    assert get(address)[0] == 200


def test_a_socket_is_refused_before_it_is_accepted(address: str) -> None:
    parts = urlsplit(address)
    good = f"ws://{parts.netloc}{parts.path}talk"
    own = f"http://{parts.netloc}"
    for url, origin in (
        (good, "http://evil.example"),
        (good, None),
        (good, own.replace("http", "https")),
        (f"ws://{parts.netloc}/wrong-token/talk", own),
        (f"ws://{parts.netloc}/talk", own),
        (f"{good}/more", own),
    ):
        with pytest.raises(InvalidStatus) as refused:
            connect(url, origin=origin)  # type: ignore[arg-type]
        assert refused.value.response.status_code == 403


def test_nothing_but_its_own_files_can_be_read(address: str) -> None:
    root = address.removesuffix("/").rpartition("/")[0]
    assert get(root + "/")[0] == 404
    assert get(root + "/wrong/")[0] == 404
    for path in (
        "../secret.txt", "..%2f..%2fsecret.txt", "files/../../secret.txt", "files/..%2f..%2f..%2fsecret.txt",
        "files//etc/passwd", "files/%2fetc%2fpasswd", "files/desk-history.jsonl", "index.html%00", "%2e%2e/",
        "files/", "static/desk.js", "__init__.py", "server.py",
    ):  # fmt: skip
        status, _, body = get(address, path)
        assert (path, status) == (path, 404)
        assert b"secret" not in body
        assert b"root:" not in body
    for method in ("POST", "PUT", "DELETE", "OPTIONS"):
        assert get(address, method=method)[0] == 405


def test_the_policy_lets_nothing_in_from_elsewhere(address: str) -> None:
    for path in ("", "desk.js", "scene.json", "nothing"):
        _, headers, _ = get(address, path)
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "script-src 'self';" in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "text",
    [
        "", "[]", "null", '{"op":"format disk","seq":1}', '{"op":"put","seq":1,"target":"x","at":[1,2]}',
        '{"op":"put","seq":1,"target":"x","at":[1,2,1e999]}', '{"op":"put","seq":1,"target":"x","at":[1,2,NaN]}',
        '{"op":"undo","seq":-1}', '{"op":"undo","seq":1,"extra":1}', '{"op":"aims","seq":1,"values":{"__class__":1}}',
        '{"op":"clearances","seq":1,"base":BASE,"values":{"body_mm":-5}}',
        '{"op":"turn","seq":1,"target":"","quarters":1}',
        '{"op":"exchange","seq":1,"base":BASE,"target":"Wick 3 charger","part":"../../secret"}',
        '{"op":"export","seq":1,"folder":"elsewhere"}',
    ],
)  # fmt: skip
def test_what_is_no_operation_is_refused_and_changes_nothing(address: str, made: Desk, text: str) -> None:
    with page(address) as tab:
        before = made.state
        tab.socket.send(text.replace("BASE", str(tab.revision)))
        answer = tab.hear("refused")
        assert answer["why"]
        assert "Traceback" not in answer["why"]
        assert made.state == before
        assert tab.ask("keep", title="still there")["t"] == "ok"
        tab.ask("discard", number=max(made.tray.layouts))


def test_a_message_that_is_too_long_ends_the_talk(address: str) -> None:
    with page(address) as tab:
        tab.socket.send(json.dumps({"op": "keep", "seq": 1, "title": "x" * 200_000}))
        with pytest.raises(ConnectionClosed):
            tab.hear("nothing of the kind")
    assert get(address)[0] == 200


def test_nothing_can_be_sent_but_short_text(address: str) -> None:
    for sent in (b"bytes", b"\x00" * 70_000):
        with page(address) as tab:
            tab.socket.send(sent)
            with pytest.raises(ConnectionClosed):
                tab.hear("nothing of the kind")
    parts = urlsplit(address)
    connection = http.client.HTTPConnection(parts.netloc, timeout=20)
    connection.request(
        "POST", f"{parts.path}files/new.yaml", body=b"x: 1", headers={"Content-Type": "text/yaml"}
    )
    assert connection.getresponse().status == 405
    assert get(address)[0] == 200


def test_it_listens_on_loopback_only(address: str) -> None:
    port = urlsplit(address).port
    assert port is not None
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as other:
        # another address of this machine is still free at that port
        other.bind(("127.0.0.2", port))
    with pytest.raises(ExportError, match=f"port {port} of this machine cannot be used"):
        listening(port)


def test_hostile_names_are_text_and_nothing_else(workshop: Make) -> None:
    name = HOSTILE.replace("'", "''")
    brief = BRIEF.replace("{part: motor,", f"{{part: motor, name: '{name}',")
    root = workshop({"bays/corrow/first.yaml": brief})
    made = desk(root, begun=False)
    made.begin_with(Layout(layout().placements[:4]), "began")
    made.edit(made.revision, "in", lambda case, s: put_in(s, HOSTILE))
    with served(made) as address:
        status, headers, _ = get(address, "scene.json")
        assert (status, headers["content-type"]) == (200, "application/json")
        with page(address) as tab:
            state = tab.ask("nudge", target=HOSTILE, by=[1, 0, 0])
            assert HOSTILE in [t["name"] for t in state["things"]]
    assert sorted(p.name for p in made.folder.iterdir()) == ["desk-history.jsonl", "desk-layout.yaml"]
