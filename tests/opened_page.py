"""Pages opened in a browser, and what a builder and a test do with them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
DESK, PHONE = {"width": 1280, "height": 720}, {"width": 844, "height": 390}


class Watched:
    """A page with what it said on the console and what it asked for."""

    def __init__(self, browser: Browser, address: str, size: dict[str, int] = DESK, touch: bool = False) -> None:
        self.troubles: list[str] = []
        self.asked: list[str] = []
        self.context = browser.new_context(
            viewport=size,
            offline=address.startswith("file:"),
            has_touch=touch,
            permissions=["clipboard-read", "clipboard-write"],
        )
        self.page: Page = self.context.new_page()
        self.page.on("console", lambda said: self.troubles.append(said.text) if said.type != "log" else None)
        self.page.on("pageerror", lambda error: self.troubles.append(str(error)))
        self.page.on("dialog", lambda dialog: self.troubles.append(dialog.message))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(address)
        self.page.wait_for_selector("body[data-ready=true]")

    def source(self, name: str) -> dict[str, list[Any]]:
        """Columns of one of the figures' sources."""
        script = """name => Object.fromEntries(Object.entries(Bokeh.documents[0].get_model_by_name(name).data)
            .map(([column, values]) => [column, Array.from(values, value => value?.length && typeof value != "string"
                ? Array.from(value) : value)]))"""
        found: dict[str, list[Any]] = self.page.evaluate(script, name)
        return found

    def pixel(self, plot: str, x: float, y: float) -> tuple[float, float]:
        """Where a point of a figure lies in the window."""
        script = """([name, x, y]) => {
            const plot = Bokeh.documents[0].get_model_by_name(name)
            const box = Bokeh.index.get_by_id(plot.id).canvas_view.el.getBoundingClientRect()
            const frame = Bokeh.index.get_by_id(plot.id).frame
            return [box.x + frame.x_scale.compute(x), box.y + frame.y_scale.compute(y)]
        }"""
        across, down = self.page.evaluate(script, [plot, float(x), float(y)])
        return across, down


class Opened(Watched):
    """A front's page."""

    def __init__(self, browser: Browser, folder: Path, size: dict[str, int] = DESK, touch: bool = False) -> None:
        self.folder = folder
        super().__init__(browser, (folder / "front.html").as_uri(), size, touch)
        choosers = ("a-up", "a-across", "b-up", "b-across", "colour")
        self.chosen = {chooser: self.page.input_value(f"#{chooser}") for chooser in choosers}

    def rows(self, name: str) -> list[int]:
        """Rows that one of the figures' filters lets through."""
        script = "name => Array.from(Bokeh.documents[0].get_model_by_name(name).indices)"
        found: list[int] = self.page.evaluate(script, name)
        return found

    def marked(self) -> list[int]:
        """Rows that are marked."""
        found: list[int] = self.page.evaluate(
            "Array.from(Bokeh.documents[0].get_model_by_name('rows').selected.indices)"
        )
        return found

    def entry(self, column: str) -> Locator:
        """Where the wish for an objective is typed."""
        return self.page.locator(f'[id="wish-{column}-text"]')

    def wish(self, column: str, text: str) -> None:
        self.entry(column).fill(text)
        self.entry(column).press("Enter")

    def move(self, text: str) -> None:
        """Type a travel."""
        self.page.locator("#travel-text").fill(text)
        self.page.locator("#travel-text").press("Enter")

    def pick(self, row: int) -> None:
        """Pick a row, counted from 0, from the list."""
        self.page.locator(f'#table tr[data-row="{row}"] th button').click()

    def head(self) -> str:
        return self.page.inner_text("#card-head")
