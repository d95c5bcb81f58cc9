"""How fast the live page follows the hand.

Run by itself, with chromium installed:

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmarks/live.py

A hand drags the pivot of the demo in a browser: from each pointer event to the frame that shows what Python answered to
it. What its server makes of moves that wait for no answer: `drags.py`.
"""

from __future__ import annotations

import math
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from bokeh.document import Document  # noqa: E402 - the checkout has to be found first

from optimizer.live_asks import Move  # noqa: E402
from optimizer.live_desk import Desk  # noqa: E402
from optimizer.live_map import PivotMap, mapped  # noqa: E402
from optimizer.live_session import LivePage  # noqa: E402
from optimizer.scenario import load_scenario  # noqa: E402
from tests.live_server import Live, Served  # noqa: E402
from tests.opened_page import FLAGS  # noqa: E402

DEMO = ROOT / "scenarios" / "buggy.toml"
MOVES = 150

WATCH = """() => {
    window.spans = []
    window.count = { heard: 0, asked: 0, answered: 0, backlog: 0 }
    let hand = 0
    const sent = new Map()
    const model = name => Bokeh.documents[0].get_model_by_name(name)
    const said = name => JSON.parse(model(name).data.text[0])
    addEventListener('pointermove', event => { hand = event.timeStamp; count.heard += 1 }, true)
    model('ask').properties.data.change.connect(() => {
        if (said('ask').do !== 'move') return
        sent.set(said('ask').n, hand)
        count.asked += 1
        queueMicrotask(() => { count.backlog = Math.max(count.backlog, sent.size - 1) })  // once an answer is counted
    })
    model('told').properties.data.change.connect(() => {
        const { kind, answers } = said('told')
        if (kind !== 'here' || !sent.has(answers)) return
        const begin = sent.get(answers)
        sent.delete(answers)
        count.answered += 1
        requestAnimationFrame(() => {
            const channel = new MessageChannel()  // comes after the frame is painted
            channel.port1.onmessage = () => window.spans.push(performance.now() - begin)
            channel.port2.postMessage(0)
        })
    })
}"""


def server_work() -> None:
    """Print what the server does at a move, in this process."""
    page = LivePage(Document(), Desk(DEMO, load_scenario(DEMO)))
    *_, around = mapped(page.scenario, page.point)
    assert isinstance(around, PivotMap)
    page.around.put(page.point, around)
    taken, own, full = [], [], []
    for n in range(MOVES):
        y, z = 240.0 + 20.0 * math.sin(n / 15), 240.0 + 10.0 * math.cos(n / 20)
        page.wanted = Move(n, 1, y, z, False)
        begin, begin_own = time.perf_counter(), time.process_time()
        page._move()
        taken.append(1e3 * (time.perf_counter() - begin))
        own.append(1e3 * (time.process_time() - begin_own))
        if n % 5 == 0:
            begin = time.perf_counter()
            page.point.candidate(page.scenario).measures()
            full.append(1e3 * (time.perf_counter() - begin))
    page.desk.close()
    print(f"server's work at a move: {_middle(taken, 1)}; processor time: {_middle(own, 1)}")
    print(f"  everything measured, when the hand pauses: {_middle(full, 1)}")


def _middle(values: list[float], digits: int) -> str:
    middle, most = statistics.median(values), statistics.quantiles(values, n=10)[-1]
    return f"median {middle:.{digits}f} ms, nine tenths under {most:.{digits}f} ms"


def _load(when: str) -> None:
    print(f"machine load {when}: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; above 1 these times say little")


def mouse_to_paint(live: Live) -> None:
    """Print how long after the mouse the page shows what Python made of it."""
    live.mapped()
    live.settled()
    live.page.evaluate(WATCH)
    x, y = live.pixel("view", *live.pivot())
    mouse = live.page.mouse
    mouse.move(x, y)
    mouse.down()
    begin = time.perf_counter()
    for n in range(1, MOVES + 1):
        mouse.move(x + 8 * math.sin(n / 12), y + 5 * math.sin(n / 9))
        live.page.wait_for_timeout(16)
    held = time.perf_counter() - begin
    mouse.up()
    live.settled()
    spans: list[float] = live.page.evaluate("window.spans")
    count: dict[str, int] = live.page.evaluate("window.count")
    print(
        f"{MOVES} moves of the mouse in {held:.1f} s: {count['heard']} heard by the page, {count['asked']} asked of "
        f"Python, {count['answered']} answered, {len(spans)} painted; at most {count['backlog']} waited behind another"
    )
    print(f"mouse to paint: {_middle(spans, 0)}")


def main() -> None:
    """Print the figures."""
    from playwright.sync_api import sync_playwright

    _load("at first")
    server_work()
    found: Any = shutil.which("chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        file = Path(folder) / DEMO.name
        file.write_text(DEMO.read_text(encoding="utf-8"), encoding="utf-8")
        served = Served(file)
        try:
            browser = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
            live = Live(browser, served)
            mouse_to_paint(live)
            _load("after the moves of the mouse")
            browser.close()
        finally:
            served.stop()


if __name__ == "__main__":
    main()
