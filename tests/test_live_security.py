"""Who may open a live page and what it takes: this machine, the token, its own pages, and no message but ours."""

from __future__ import annotations

import asyncio
import http.client
import re
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from tornado.httpclient import HTTPClientError, HTTPRequest
from tornado.websocket import WebSocketClientConnection, websocket_connect

from tests.commands import run_apart
from tests.fronts import SCENARIOS
from tests.live_server import Served
from tests.test_command_line import run


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    file = tmp_path_factory.mktemp("safe") / "buggy.toml"
    file.write_text((SCENARIOS / "buggy.toml").read_text(encoding="utf-8"), encoding="utf-8")
    running = Served(file)
    yield running
    code, rest = running.stop()
    assert code == 0
    assert "Traceback" not in rest


def got(served: Served, path: str, host: str | None = None, **headers: str) -> tuple[int, str, str]:
    """Status, kind and text of an answer."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=30)
    connection.request("GET", path, headers={"Host": host or f"127.0.0.1:{served.port}", **headers})
    answer = connection.getresponse()
    found = answer.status, answer.getheader("Content-Type") or "", answer.read().decode()
    connection.close()
    return found


def test_page_opens_with_its_whole_address_only(served: Served) -> None:
    status, kind, text = got(served, f"/?token={served.token}")
    assert (status, kind) == (200, "text/html")
    assert "no-referrer" in text
    for path in (
        "/",
        "/?token=",
        "/?token=x",
        f"/?token={served.token[:-1]}",
        f"/?token={served.token}x",
        "/ws",
        "/metadata",
    ):
        status, kind, text = got(served, path)
        assert (status, kind) == (403, "text/plain; charset=utf-8"), path
        assert text == "This page opens only with its whole address, as pivotfront printed it in the terminal.\n"
    assert got(served, "/autoload.js?bokeh-autoload-element=x")[0] == 403
    assert got(served, f"/?token={served.token}&bokeh-session-id=mine")[0] == 403
    assert got(served, "/static/js/../../../pyproject.toml")[0] in (403, 404)


def test_another_name_for_this_machine_is_refused(served: Served) -> None:
    for host in ("example.org", f"example.org:{served.port}", f"localhost:{served.port}", "127.0.0.1"):
        assert got(served, f"/?token={served.token}", host)[0] == 403, host
    assert got(served, f"/?token={served.token}", Origin="http://example.org")[0] == 403


def test_nothing_but_loopback_listens(served: Served) -> None:
    with socket.socket() as tried:
        tried.settimeout(5)
        with pytest.raises(ConnectionRefusedError):
            tried.connect(("127.0.0.2", served.port))


def session_of(served: Served) -> str:
    """Session of a page that is opened; the page has to be given."""
    status, _, text = got(served, f"/?token={served.token}")
    assert status == 200
    found = re.search(r'<script type="application/json" id="session">\{"token":"([^"]+)"', text)
    assert found
    return found.group(1)


@pytest.fixture(scope="module")
def session(served: Served) -> str:
    """A session of whose page no socket has been opened."""
    return session_of(served)


@pytest.fixture(scope="module")
def waiting() -> list[str]:
    """Sessions of the pages that tests have opened last."""
    return []


async def opened(
    served: Served, session: str, origin: str | None, token: str | None = None
) -> WebSocketClientConnection:
    address = f"ws://127.0.0.1:{served.port}/ws?token={served.token if token is None else token}"
    headers = {} if origin is None else {"Origin": origin}
    return await websocket_connect(HTTPRequest(address, headers=headers), subprotocols=["bokeh", session])


async def last_of(socket: WebSocketClientConnection) -> str | bytes | None:
    """The next message, None where it is hung up; the socket is closed in either case."""
    answer = read = await asyncio.wait_for(socket.read_message(), 20)
    socket.close()
    while read is not None:
        read = await asyncio.wait_for(socket.read_message(), 20)
    await asyncio.sleep(0.1)  # the stream beneath is closed a tick later
    return answer


@pytest.mark.parametrize(
    ("origin", "token"),
    [("http://example.org", None), ("http://localhost:1", None), ("null", None), (None, ""), (None, "guess")],
)
def test_a_socket_from_elsewhere_is_refused(
    served: Served, session: str, origin: str | None, token: str | None
) -> None:
    with pytest.raises(HTTPClientError, match="403"):
        asyncio.run(opened(served, session, origin, token))


def test_a_session_nobody_was_given_is_refused(served: Served, session: str) -> None:
    head, _, tail = session.partition(".")
    forged = f"{head}.{tail[:-2]}{'AA' if not tail.endswith('AA') else 'BB'}"

    async def answers() -> object:
        socket = await opened(served, forged, f"http://127.0.0.1:{served.port}")
        return await last_of(socket)

    assert asyncio.run(answers()) is None  # closed without a word


@pytest.mark.parametrize(
    "bad",
    [
        ["garbage", "{}", "{}"],
        ['{"msgid": "1", "msgtype": "PATCH-DOC"}', "{}", '{"events": [{"kind": "Nonsense"}]}'],
        ['{"msgid": "1", "msgtype": "EXPLODE"}', "{}", "{}"],
        ["x" * 200_000],
    ],
    ids=["garbage", "patch", "unknown", "too long"],
)
def test_bad_messages_are_refused_and_the_next_page_opens(served: Served, waiting: list[str], bad: list[str]) -> None:
    session = waiting.pop() if waiting else session_of(served)

    async def tried() -> list[str]:
        socket = await opened(served, session, f"http://127.0.0.1:{served.port}")
        heard = [str(await asyncio.wait_for(socket.read_message(), 20)) for _ in range(3)]  # ACK in its three parts
        for part in bad:
            await socket.write_message(part)
        answer = await last_of(socket)
        return [*heard, str(answer)]

    *hello, answer = asyncio.run(tried())
    assert "ACK" in hello[0]
    assert answer == "None" or "ERROR" in answer  # hung up on, or told so
    waiting.append(session_of(served))


def test_a_port_that_is_taken_is_a_sentence(served: Served) -> None:
    done = run_apart("explore", SCENARIOS / "buggy.toml", "--no-browser", "--port", served.port, code=2)
    assert f"--port {served.port}" in done.stderr


def test_results_that_are_none_are_a_sentence(tmp_path: Path) -> None:
    done = run("explore", SCENARIOS / "buggy.toml", "--no-browser", "--results", tmp_path, code=2)
    assert "pivotfront search" in done.stderr
