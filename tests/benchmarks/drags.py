"""200 moves of a hand a second for a minute, sent straight to the live page's server: does its memory stay flat?

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmarks/drags.py [seconds]

A browser sends a move only when the last one is answered, so this speaks the page's socket itself, as a page would
that waits for nothing. The last answer has to be that to the last move, exactly as `try` measures it.
"""

from __future__ import annotations

import asyncio
import http.client
import json
import math
import os
import re
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tornado.httpclient import HTTPRequest
from tornado.websocket import WebSocketClientConnection, websocket_connect

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from optimizer.candidate import candidate_at  # noqa: E402 - the checkout has to be found first
from optimizer.scenario import load_scenario  # noqa: E402
from tests.live_server import Served  # noqa: E402

DEMO = ROOT / "scenarios" / "buggy.toml"
RATE = 200  # moves a second
DRAG = 400  # moves from taking hold to letting go
PATIENCE = 60.0  # seconds for the last answer
EXACT = 1e-9  # of a measure, between the page's and that of the same pivot measured here


class Hand:
    """A live page's socket, and a hand that moves."""

    def __init__(self, served: Served) -> None:
        self.served, self.here, self.heard = served, dict[str, Any](), 0
        self.socket: WebSocketClientConnection | None = None
        self.ask = ""  # number of the model that carries what is asked

    async def open(self) -> None:
        """Be given a page, open its socket and find the model that takes asks."""
        connection = http.client.HTTPConnection("127.0.0.1", self.served.port, timeout=30)
        connection.request("GET", f"/?token={self.served.token}")
        page = connection.getresponse().read().decode()
        connection.close()
        found = re.search(r'id="session">\{"token":"([^"]+)"', page)
        assert found, "the page holds no session"
        place = f"127.0.0.1:{self.served.port}"
        request = HTTPRequest(f"ws://{place}/ws?token={self.served.token}", headers={"Origin": f"http://{place}"})
        self.socket = await websocket_connect(request, subprotocols=["bokeh", found.group(1)])
        await self._message()  # the server's greeting
        await self._send("PULL-DOC-REQ", {})
        while (answer := await self._message())[0].get("msgtype") != "PULL-DOC-REPLY":
            pass
        self.ask = next(model["id"] for model in _models(answer[1]) if model["attributes"].get("name") == "ask")

    async def move(self, n: int, last: bool = False) -> tuple[float, float]:
        """Send a move and wait for nothing; where it went."""
        y, z = 240.0 + 20.0 * math.sin(n / 50), 240.0 + 10.0 * math.cos(n / 70)
        said = json.dumps({"do": "move", "n": n, "hand": 1 + n // DRAG, "y": y, "z": z, "last": last})
        new = {"type": "map", "entries": [["text", [said]]]}
        event = {"kind": "ModelChanged", "model": {"id": self.ask}, "attr": "data", "new": new}
        await self._send("PATCH-DOC", {"events": [event]})
        return y, z

    async def listen(self) -> None:
        """Take in all that the server tells, for ever."""
        while True:
            _, content = await self._message()
            for text in _texts(content):
                if '"kind": "here"' in text:
                    self.here, self.heard = json.loads(text), self.heard + 1

    async def _send(self, kind: str, content: dict[str, Any]) -> None:
        assert self.socket is not None
        for part in ({"msgid": "1", "msgtype": kind}, {}, content):
            await self.socket.write_message(json.dumps(part))

    async def _message(self) -> tuple[dict[str, Any], dict[str, Any]]:
        assert self.socket is not None
        header, _, content = [json.loads(await self.socket.read_message() or "null") for _ in range(3)]
        for _ in range(2 * header.get("num_buffers", 0)):  # numbers of the map, each with a head of its own
            await self.socket.read_message()
        return header, content


def _models(part: Any) -> list[dict[str, Any]]:
    """Every model of a document, wherever it stands."""
    inner = part.values() if isinstance(part, dict) else part if isinstance(part, list) else ()
    found = [model for one in inner for model in _models(one)]
    whole = isinstance(part, dict) and part.get("type") == "object" and "attributes" in part
    return [part, *found] if whole else found


def _texts(part: Any) -> list[str]:
    """Every text of a message, wherever it stands."""
    if isinstance(part, str):
        return [part]
    inner = part.values() if isinstance(part, dict) else part if isinstance(part, list) else ()
    return [text for one in inner for text in _texts(one)]


def worked(process: int) -> float:
    """Processor time that a process has used, seconds."""
    parts = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def resident(process: int) -> float:
    """Memory of a process, MB."""
    status = Path(f"/proc/{process}/status").read_text(encoding="utf-8")
    return int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1]) / 1024


async def flood(served: Served, seconds: int) -> None:
    """Print the server's memory while moves pour in, and whether the last answer is that to the last move."""
    hand = Hand(served)
    await hand.open()
    ear = asyncio.create_task(hand.listen())
    read, before = [resident(served.process.pid)], worked(served.process.pid)
    begin, n = time.perf_counter(), 0
    while (gone := time.perf_counter() - begin) < seconds:
        while n < RATE * gone:
            n += 1
            await hand.move(n)
        if gone > len(read) * seconds / 12:
            read.append(resident(served.process.pid))
        await asyncio.sleep(0.5 / RATE)
    sent, rate = n + 1, n / (time.perf_counter() - begin)
    heard, (y, z), end = hand.heard, await hand.move(sent, last=True), time.perf_counter()
    while (hand.here.get("answers"), hand.here.get("exact")) != (sent, True):
        assert not ear.done(), ear.exception()
        assert time.perf_counter() - end < PATIENCE, f"no answer to move {sent}, but to {hand.here.get('answers')}"
        await asyncio.sleep(0.01)
    took = worked(served.process.pid) - before
    later = ", ".join(f"{size:.0f}" for size in (*read[1:], resident(served.process.pid)))
    print(f"{rate:.0f} moves a second for {seconds} s, {heard} of them worked out and told meanwhile,")
    print(f"  for {took:.0f} s of the server's processor time")
    print(f"  memory of the server, MB: {read[0]:.0f} at first, then {later}")
    print(f"  the last answer came {time.perf_counter() - end:.2f} s after the last move, {_agrees(hand.here, y, z)}")
    ear.cancel()


def _agrees(here: dict[str, Any], y: float, z: float) -> str:
    """Compare the last answer with the pivot of the last move, measured here."""
    scenario = load_scenario(DEMO)
    unit, point = scenario.unit, here["point"]
    where = candidate_at(scenario, float(unit.to_mm(point["y"])), float(unit.to_mm(point["z"])), 0.0)
    found, worst = where.measures(), 0.0
    for objective in scenario.measured:
        value = here["values"][objective.column]
        if value is not None and objective.name in found:
            exact = float(unit.show(float(found[objective.name]), objective.quantity))
            worst = max(worst, abs(value - exact) / max(1.0, abs(exact)))
    assert worst < EXACT, f"off by {worst:.1e}"
    return f"{math.hypot(point['y'] - y, point['z'] - z):.2g} mm from it, its measures within {worst:.0e}"


def main(seconds: int) -> None:
    """Serve the demo and flood its page."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / DEMO.name
        file.write_text(DEMO.read_text(encoding="utf-8"), encoding="utf-8")
        served = Served(file)
        try:
            asyncio.run(flood(served, seconds))
        finally:
            served.stop()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
