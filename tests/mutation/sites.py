"""Where a formula can be broken: small changes of source text, found on Python's own syntax tree."""

from __future__ import annotations

import ast
import copy
import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_CALLS = {
    "sin": "cos",
    "cos": "sin",
    "arcsin": "arccos",
    "arccos": "arcsin",
    "min": "max",
    "max": "min",
    "minimum": "maximum",
    "maximum": "minimum",
    "argmin": "argmax",
    "argmax": "argmin",
}
_SWAPS = {"cross": (0, 1), "arctan2": (0, 1), "where": (1, 2), "clip": (1, 2)}
_COMPARES = {ast.Lt: ast.Gt, ast.Gt: ast.Lt, ast.LtE: ast.GtE, ast.GtE: ast.LtE, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq}
_NUMBERS = {0.0: 1.0, 0.125: 0.25, 0.5: 1.0, 1.0: 2.0, 2.0: 3.0, 3.0: 2.0, 4.0: 5.0, 8.0: 4.0}
_AXES = {0: 1, 1: 0, 2: 1}
_SHAPES = (".reshape(", ".shape +")  # what only gives arrays their axes breaks at once
_SKIPPED = (ast.Raise, ast.Assert, ast.JoinedStr, ast.Import, ast.ImportFrom, ast.Slice)


@dataclass(frozen=True)
class Mutant:
    """One change of one file: the `nth` `before` on a line becomes `after`; `source` is the whole file with it."""

    file: str
    line: int
    text: str
    before: str
    after: str
    nth: int
    source: str

    @property
    def key(self) -> tuple[str, str, str, str, int]:
        """What names it however the lines around it move."""
        return self.file, self.text, self.before, self.after, self.nth

    @property
    def drawn(self) -> str:
        return hashlib.sha256(repr(self.key).encode()).hexdigest()

    @property
    def said(self) -> str:
        return f"{self.file}:{self.line}\t{self.before}  ->  {self.after}" + f" ({self.nth})" * (self.nth > 1)


def mutants_of(path: Path, quota: int, skip: int) -> list[Mutant]:
    """Mutants of a file, at most one of each line: `quota` and one more for every 20 lines, in an order drawn by lot.

    The lot is drawn from each mutant's own text, so that it does not depend on other lines; `skip` leaves out as many
    of a line's lot before its own is taken, which gives other mutants of the same lines.
    """
    found: dict[int, list[Mutant]] = {}
    for mutant in all_mutants_of(path):
        found.setdefault(mutant.line, []).append(mutant)
    chosen = [sorted(on_line, key=lambda m: m.drawn)[skip % len(on_line)] for on_line in found.values()]
    chosen.sort(key=lambda m: m.drawn)
    return sorted(chosen[: quota + len(chosen) // 20], key=lambda m: m.line)


def all_mutants_of(path: Path) -> list[Mutant]:
    """Every change that is known of every line of a file."""
    source, nth = path.read_text(), Counter[tuple[str, str, int]]()
    lines = source.splitlines()
    found = []
    for node, changed in _changes(ast.parse(source)):
        before, after = " ".join((ast.get_source_segment(source, node) or "").split()), ast.unparse(changed)
        line = node.lineno
        nth[before, after, line] += 1
        place = line, lines[line - 1].strip(), before, after, nth[before, after, line]
        found.append(Mutant(path.name, *place, _spliced(source, node, after)))
    return found


def _spliced(source: str, node: ast.expr, after: str) -> str:
    lines = source.encode().splitlines(keepends=True)
    begin = sum(map(len, lines[: node.lineno - 1])) + node.col_offset
    end = sum(map(len, lines[: (node.end_lineno or 0) - 1])) + (node.end_col_offset or 0)
    whole = b"".join(lines)
    return (whole[:begin] + f"({after})".encode() + whole[end:]).decode()


def _changes(node: ast.AST) -> Iterator[tuple[ast.expr, ast.expr]]:
    """Every expression that can be changed, and what it becomes."""
    if isinstance(node, _SKIPPED):
        return
    if isinstance(node, ast.Call | ast.BinOp) and any(word in ast.unparse(node) for word in _SHAPES):
        return
    if isinstance(node, ast.expr):
        yield from ((node, changed) for changed in _changed(node))
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _changes(child)


def _changed(node: ast.expr) -> Iterator[ast.expr]:
    match node:
        case ast.BinOp(left, op, right):
            yield from _binary(node, left, op, right)
        case ast.UnaryOp(ast.USub() | ast.Invert(), operand):
            yield operand
        case ast.Compare(ops=[op]) if type(op) in _COMPARES:
            yield _with(node, ops=[_COMPARES[type(op)]()])
        case ast.BoolOp(op):
            yield _with(node, op=ast.Or() if isinstance(op, ast.And) else ast.And())
        case ast.Constant(float(value)) if value in _NUMBERS:
            yield ast.Constant(_NUMBERS[value])
        case ast.Subscript(base) if ".shape" not in ast.unparse(base):
            yield from _axis(node)
        case ast.Call(func, arguments):
            yield from _call(node, func, arguments)


def _binary(node: ast.BinOp, left: ast.expr, op: ast.operator, right: ast.expr) -> Iterator[ast.expr]:
    others = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
    others |= {ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd}
    if type(op) in others:
        yield _with(node, op=others[type(op)]())
        yield left
    if isinstance(op, ast.Add | ast.Mult | ast.BitAnd | ast.BitOr):
        yield right
    if isinstance(right, ast.Constant) and type(right.value) is int and float(right.value) in _NUMBERS:
        yield _with(node, right=ast.Constant(int(_NUMBERS[float(right.value)])))
    if isinstance(op, ast.Sub):
        yield _with(node, left=right, right=left)


def _axis(node: ast.Subscript) -> Iterator[ast.expr]:
    match node.slice:
        case ast.Constant(int(axis)) if axis in _AXES:
            yield _with(node, slice=ast.Constant(_AXES[axis]))
        case ast.Tuple(parts):
            for number, part in enumerate(parts):
                if isinstance(part, ast.Constant) and part.value in _AXES:
                    moved = [*parts[:number], ast.Constant(_AXES[part.value]), *parts[number + 1 :]]
                    yield _with(node, slice=ast.Tuple(moved, ast.Load()))


def _call(node: ast.Call, func: ast.expr, arguments: list[ast.expr]) -> Iterator[ast.expr]:
    name = func.attr if isinstance(func, ast.Attribute) else func.id if isinstance(func, ast.Name) else ""
    if name in _CALLS:
        other = _CALLS[name]
        yield _with(node, func=_with(func, attr=other) if isinstance(func, ast.Attribute) else ast.Name(other))
    for first, second in [_SWAPS[name]] if name in _SWAPS else []:
        if len(arguments) > second:
            swapped = list(arguments)
            swapped[first], swapped[second] = arguments[second], arguments[first]
            yield _with(node, args=swapped)


def _with(node: ast.expr, **fields: object) -> ast.expr:
    changed = copy.copy(node)
    for name, value in fields.items():
        setattr(changed, name, value)
    return changed
