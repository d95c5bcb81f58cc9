"""What every picture shares: paper settings, a titled sheet, files, legend, and curves that say where they end."""

from __future__ import annotations

import textwrap
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from PIL import Image

from objectives.corner import Corner
from objectives.objective import Column
from objectives.vectors import Array
from optimizer.candidate import Candidate
from optimizer.frame_view import BLACK, Look, show_in
from optimizer.scenario import Scenario
from optimizer.units import Quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes


POINTS = 121  # travels of a curve
DPI = 150.0  # of pictures in files
LETTERS = 13  # of a legend to the inch: capitals of 9 points; a line and the gap beside it are as wide as 11
COLOURS = 48  # of a picture shown between text: those drawn with, and steps between for smooth edges

Named = Sequence[tuple[Candidate, str, Look]]
"""Candidates to draw in one picture, what to call each, and its look."""


@contextmanager
def paper(scenario: Scenario) -> Iterator[None]:
    """Settings under which the same input gives the same file and any text is shown as it is written."""
    fixed: dict[Any, Any] = {
        "text.parse_math": False,
        "text.usetex": False,
        "svg.hashsalt": scenario.title,
        "axes.axisbelow": True,
        "axes.grid": True,
        "grid.color": "#DDDDDD",
        "legend.framealpha": 0.9,
        "legend.handlelength": 4.0,
        "font.size": 9,
    }
    with mpl.rc_context(), warnings.catch_warnings():
        # as `rcdefaults`, which first reads every style there is: a tenth of the time that a picture takes
        plain: dict[Any, Any] = {**mpl.rcParamsDefault}
        mpl.rcParams.update({name: value for name, value in plain.items() if name != "backend"})
        mpl.rcParams.update(fixed)
        # a title may hold characters the font lacks: they show as boxes
        warnings.filterwarnings("ignore", message="Glyph")
        warnings.filterwarnings("ignore", message="Matplotlib currently does not support")
        yield


def sheet(scenario: Scenario, words: str, width: float, height: float) -> Figure:
    """Start a figure, inches, headed by the scenario's title and what it shows."""
    figure = Figure(figsize=(width, height), layout=ConstrainedLayoutEngine(w_pad=0.09, h_pad=0.07))
    FigureCanvasAgg(figure)
    title = textwrap.shorten(scenario.title, 160, placeholder=" …")
    figure.suptitle(even_lines(f"{title}: {words}", int(width * 10)), fontsize=11)
    return figure


def even_lines(text: str, width: int) -> str:
    """Text in as few lines as the width allows, all about as long: no last word stands alone."""
    lines = len(textwrap.wrap(text, width))
    fits = (w for w in range(max(1, len(text) // max(lines, 1)), width) if len(textwrap.wrap(text, w)) == lines)
    return textwrap.fill(text, next(fits, width))


def write_pictures(
    scenario: Scenario, folder: Path, pictures: Mapping[str, Callable[..., Figure]], *shown: Any
) -> list[Path]:
    """Draw each picture of what is shown and write it to `folder`; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, picture in pictures.items():
        with paper(scenario):
            _write_both(picture(scenario, *shown), folder / name)
        written += [folder / f"{name}.png", folder / f"{name}.svg"]
    return written


def write_png(figure: Figure, file: Path, **metadata: str) -> None:
    """Lay a figure out once, which takes longer than to draw it, and draw it as PNG.

    `savefig` would go through it once more before.
    """
    layout = figure.get_layout_engine()
    assert layout is not None, "every sheet has one"
    figure.set_dpi(DPI)
    if figure.axes:
        layout.execute(figure)
    figure.set_layout_engine("none")
    FigureCanvasAgg(figure).print_png(file, metadata=metadata)  # type: ignore[no-untyped-call]


def _write_both(figure: Figure, stem: Path) -> None:
    """Draw a figure as PNG and, laid out as it is then, as SVG."""
    write_png(figure, stem.with_suffix(".png"))
    figure.set_dpi(72.0)  # points
    svg = FigureCanvasSVG(figure)
    svg.print_svg(stem.with_suffix(".svg"), metadata={"Date": None})  # type: ignore[no-untyped-call]


def png_of(scenario: Scenario, picture: Callable[..., Figure], *shown: Any, dpi: int) -> bytes:
    """Draw a picture of what is shown and return its PNG, in few colours: a third of the size."""
    with paper(scenario), BytesIO() as drawn, BytesIO() as small:
        picture(scenario, *shown).savefig(drawn, dpi=dpi, format="png")
        _in_few_colours(Image.open(drawn)).save(small, format="png", optimize=True)
        return small.getvalue()


def _in_few_colours(image: Image.Image) -> Image.Image:
    """Keep the colours that lie farthest apart: the most frequent ones would all be greys."""
    return image.convert("RGB").quantize(COLOURS, method=Image.Quantize.MAXCOVERAGE)


def legend_below(figure: Figure) -> None:
    """Put one legend for all of a figure's axes below them, each entry once."""
    entries: dict[str, Any] = {}
    for axes in figure.axes:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            entries.setdefault(label, handle)
    labels = [textwrap.shorten(label, 90, placeholder=" …") for label in entries]
    longest = max(map(len, labels), default=1)
    columns = max(1, min(len(labels), int(figure.get_figwidth() * LETTERS / (longest + 11))))
    figure.legend(list(entries.values()), labels, loc="outside lower center", ncols=columns)


def quantity_of(column: Column) -> Quantity:
    """Quantity of a column that holds numbers."""
    assert column.quantity != "text"
    return column.quantity


def draw_curve(axes: Axes, across: Array, up: Array, why: str = "locks here", **style: Any) -> None:
    """Draw a curve, and say at its inner ends why it ends there: that the candidate locks."""
    axes.plot(across, up, **style)
    there = np.flatnonzero(np.isfinite(across) & np.isfinite(up))
    if not there.size:
        return
    for end, last in ((there[0], 0), (there[-1], across.size - 1)):
        if end != last:
            axes.plot(across[end], up[end], marker="X", color=style["color"], markeredgecolor=BLACK, zorder=5)
            axes.annotate(
                why,
                (across[end], up[end]),
                xytext=(0, 9),
                ha="center",
                textcoords="offset points",
                bbox={"facecolor": "white", "edgecolor": style["color"], "pad": 1.5},
                zorder=6,
            )


def travels_of(corner: Corner) -> Array:
    """Travels of a curve: the required droop to the required bump, with ride itself."""
    return np.union1d(np.linspace(-corner.travel.droop, corner.travel.bump, POINTS), [0.0])


def over_travel(scenario: Scenario, words: str, label: str, quantity: Quantity = "angle") -> tuple[Figure, Axes, Array]:
    """Start a picture of something against travel."""
    figure = sheet(scenario, words, 7.5, 5.2)
    axes = figure.add_subplot()
    axes.axhline(0.0, color=BLACK, linewidth=0.8)
    axes.axvline(0.0, color=BLACK, linewidth=0.8)
    show_in(axes.xaxis, scenario.unit, "length", "wheel travel, bump +, droop -")
    show_in(axes.yaxis, scenario.unit, quantity, label)
    return figure, axes, travels_of(scenario.corner)
