"""A report as blocks, written as Markdown or as one self-contained HTML page."""

from __future__ import annotations

import base64
import html
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

_STYLE = """
body { font: 16px/1.5 system-ui, sans-serif; max-width: 64rem; margin: 2rem auto; padding: 0 1rem; color: #1a1a1a }
table { border-collapse: collapse; margin: 1rem 0 } th, td { border: 1px solid #999; padding: .25rem .6rem }
th { background: #eee; text-align: left } td { text-align: right } td:first-child { text-align: left }
figure { margin: 1.5rem 0 } img { max-width: 100%; height: auto } .scroll { overflow-x: auto }
.wide { font-size: .8rem } .wide td { white-space: nowrap } .wide th, .wide td { padding: .2rem .35rem }
@media print { body { max-width: none; margin: 0 } }
"""


WIDE = 8  # columns beyond which a table is set smaller, to fit its page


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 is the page's."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    text: str


@dataclass(frozen=True)
class Points:
    """A list."""

    items: Sequence[str]


@dataclass(frozen=True)
class Table:
    """A table; the first column is words."""

    head: Sequence[str]
    rows: Sequence[Sequence[str]]


@dataclass(frozen=True)
class Picture:
    """A PNG picture with its caption."""

    path: Path
    caption: str


@dataclass(frozen=True)
class Files:
    """A list of files beside the report: name of each, and what it is."""

    items: Sequence[tuple[str, str]]


Block = Heading | Text | Points | Table | Picture | Files


def as_markdown(blocks: Sequence[Block]) -> str:
    """Write blocks as Markdown; pictures are linked by file name."""
    return "\n\n".join(_markdown(block) for block in blocks) + "\n"


def _markdown(block: Block) -> str:
    match block:
        case Heading(text, level):
            return f"{'#' * level} {_plain(text)}"
        case Text(text):
            return _plain(text)
        case Points(items):
            return "\n".join(f"- {_plain(item)}" for item in items)
        case Table(head, rows):
            lines = [head, ["---", *("---:" for _ in head[1:])], *rows]
            return "\n".join("| " + " | ".join(_cell(cell) for cell in line) + " |" for line in lines)
        case Picture(path, caption):
            return f"![{_plain(caption)}]({path.name})"
        case Files(items):
            return "\n".join(f"- [{_plain(name)}]({name}): {_plain(words)}" for name, words in items)


def as_text(blocks: Sequence[Block]) -> str:
    """Write blocks for a screen; of a table each row on a line, each cell under its head."""
    return "\n\n".join(_text(block) for block in blocks)


def _text(block: Block) -> str:
    match block:
        case Heading(text, _):
            return text
        case Text(text):
            return text
        case Points(items):
            return "\n".join(f"- {item}" for item in items)
        case Table(head, rows):
            lines = [head, *rows]
            wide = [max(len(line[column]) for line in lines) for column in range(len(head))]
            padded = ("  ".join(cell.ljust(width) for cell, width in zip(line, wide, strict=True)) for line in lines)
            return "\n".join(line.rstrip() for line in padded)
        case Picture(path, caption):
            return f"{caption}: {path.name}"
        case Files(items):
            return "\n".join(f"{name}: {words}" for name, words in items)


_MARKS = str.maketrans({mark: f"\\{mark}" for mark in "\\`*_[]!#|"} | {"<": "&lt;", "&": "&amp;"})


def _plain(text: str) -> str:
    """Text that Markdown shows as it is, on one line."""
    return " ".join(text.split()).translate(_MARKS)


def _cell(text: str) -> str:
    return text if set(text) <= {"-", ":"} and text else _plain(text.replace("\n", " = "))


def as_html(title: str, blocks: Sequence[Block]) -> str:
    """Write blocks as one HTML page with its pictures inside it."""
    body = html_of(blocks)
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{html.escape(title)}</title>\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<style>{_STYLE}</style>\n</head>\n'
        f"<body>\n{body}\n</body>\n</html>\n"
    )


def html_of(blocks: Sequence[Block]) -> str:
    """Write blocks as HTML to stand inside a page."""
    return "\n".join(_html(block) for block in blocks)


def _html(block: Block) -> str:
    match block:
        case Heading(text, level):
            return f"<h{level}>{html.escape(text)}</h{level}>"
        case Text(text):
            return f"<p>{html.escape(text)}</p>"
        case Points(items):
            return "<ul>" + "".join(f"<li>{html.escape(item)}</li>" for item in items) + "</ul>"
        case Table(head, rows):
            top = "".join(f"<th>{html.escape(cell)}</th>" for cell in head)
            lines = ("".join(f"<td>{_html_cell(cell)}</td>" for cell in row) for row in rows)
            inner = "".join(f"<tr>{line}</tr>" for line in lines)
            kind = ' class="wide"' if len(head) > WIDE else ""
            return f'<div class="scroll"><table{kind}><thead><tr>{top}</tr></thead><tbody>{inner}</tbody></table></div>'
        case Picture(path, caption):
            return figure_of(path.read_bytes(), caption)
        case Files(items):
            links = (
                f'<a href="{html.escape(name)}">{html.escape(name)}</a>: {html.escape(words)}' for name, words in items
            )
            return "<ul>" + "".join(f"<li>{link}</li>" for link in links) + "</ul>"


def figure_of(png: bytes, caption: str) -> str:
    """Write a PNG picture with its caption as HTML that needs no file beside it."""
    words, data = html.escape(caption), base64.b64encode(png).decode("ascii")
    image = f'<img alt="{words}" src="data:image/png;base64,{data}">'
    return f"<figure>{image}<figcaption>{words}</figcaption></figure>"


def _html_cell(cell: str) -> str:
    return html.escape(cell).replace("\n", "<br>")
