"""The live page's server: this machine alone, a token in the address, one scenario, until Ctrl-C."""

from __future__ import annotations

import hmac
import logging
import secrets
import signal
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from optimizer.errors import ResultsError
from optimizer.live_desk import Desk, begins_at
from optimizer.live_page import live_page
from optimizer.live_session import LivePage

if TYPE_CHECKING:
    from bokeh.document import Document
    from bokeh.server.auth_provider import AuthProvider
    from bokeh.server.server import Server

LOOPBACK = "127.0.0.1"
REFUSED = "This page opens only with its whole address, as pivotfront printed it in the terminal."
LARGEST_MESSAGE = 100_000  # bytes that a page may send at once; an ask is a few hundred


def live_server(desk: Desk, port: int = 0) -> tuple[Server, str]:
    """Make the server and the address that opens its page; `port` 0 takes a free one.

    Raises
    ------
    ResultsError
        The port is taken.
    """
    from bokeh.application import Application
    from bokeh.application.handlers.function import FunctionHandler
    from bokeh.server.server import Server

    token = secrets.token_urlsafe(24)
    port = port or _free_port()
    host = f"{LOOPBACK}:{port}"
    options: dict[str, Any] = {
        "address": LOOPBACK,
        "port": port,
        "allow_websocket_origin": [host],
        "auth_provider": _gate(token, host),
        "sign_sessions": True,  # so that nobody makes up a session without having been given the page
        "secret_key": secrets.token_urlsafe(32),
        "include_headers": [],
        "include_cookies": [],
        "use_index": False,
        "websocket_max_message_size": LARGEST_MESSAGE,
        "check_unused_sessions_milliseconds": 5_000,
        "unused_session_lifetime_milliseconds": 10_000,
        "ico_path": "none",
    }

    def opened(document: Document) -> None:
        _open(desk, host, document)

    try:
        server = Server({"/": Application(FunctionHandler(opened))}, **options)
    except OSError as error:
        raise ResultsError(f"--port {port}: cannot be listened on: {error.strerror}; name another, or none") from None
    return server, f"http://{host}/?token={token}"


def _free_port() -> int:
    """A port that nobody listens on: the server has to know its own before it begins, to check where a page is from."""
    with socket.socket() as tried:
        tried.bind((LOOPBACK, 0))
        return int(tried.getsockname()[1])


def _open(desk: Desk, host: str, document: Document) -> None:
    """Put a page of its own into a new session's document."""
    page = LivePage(document, desk)
    document.title = desk.scenario.title
    document.config.update(reconnect_session=False, notify_connection_status=False)

    def written(session: Any) -> str:
        roots = {root.id: root.name for root in document.roots}
        return live_page(page, host, session.token, roots)

    # the server's own page, of which nothing but the two blocks is kept
    document.template = "{% block head %}{% endblock %}{% block body %}{{ written(doc) }}{% endblock %}"
    document.template_variables["written"] = written


def _gate(token: str, host: str) -> AuthProvider:
    """Let in who asks by this machine's number, from a page of its own, with the token; others get a sentence."""
    from bokeh.server.auth_provider import AuthProvider
    from tornado.web import Finish, RequestHandler

    class Gate(AuthProvider):  # type: ignore[misc]  # bokeh's types are not read, see pyproject.toml
        """See `_gate`."""

        @property
        def get_user_async(self) -> Callable[[RequestHandler], Any]:
            async def user(handler: RequestHandler) -> str:
                given = handler.get_query_argument("token", "")
                same = hmac.compare_digest(given.encode(), token.encode())
                origin = handler.request.headers.get("Origin", f"http://{host}")
                if same and handler.request.host == host and origin == f"http://{host}":
                    return "the one who knows the address"
                handler.set_status(403)
                handler.set_header("Content-Type", "text/plain; charset=utf-8")
                raise Finish(REFUSED + "\n")

            return user

        @property
        def login_url(self) -> str:
            return "/"

    return Gate()


def explore(desk: Desk, port: int, browser: bool, say: Callable[[str], None]) -> None:
    """Serve live pages until Ctrl-C.

    Parameters
    ----------
    desk
        What is on the table.
    port
        0 for a free one.
    browser
        Open the page in the browser.
    say
        Takes sentences for the terminal.

    Raises
    ------
    ResultsError
        The port is taken.
    NoUsableCandidate
        There is no pivot to begin at.
    """
    import webbrowser

    begins_at(desk).candidate(desk.scenario)
    quiet()
    server, address = live_server(desk, port)
    say(address)
    say("open it in a browser on this machine; Ctrl-C stops")
    if browser:
        server.io_loop.call_later(0.1, webbrowser.open, address)
    try:
        serve(server)
    finally:
        desk.close()
    say("stopped")


def serve(server: Server) -> None:
    """Serve until Ctrl-C or a request to end."""
    loop = server.io_loop

    def stop(*_: object) -> None:
        loop.add_callback_from_signal(loop.stop)

    with _on_signals(stop):
        server.start()
        loop.start()
    server.stop(wait=False)


@contextmanager
def _on_signals(act: Callable[..., None]) -> Iterator[None]:
    before = {number: signal.signal(number, act) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def quiet() -> None:
    """Keep the server's own log off the terminal: what a builder needs to know stands in the page."""
    for name in ("bokeh", "tornado"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
