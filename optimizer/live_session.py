"""One live page: hears what it asks, works it out, and tells it; every page has its own."""

from __future__ import annotations

import json
import math
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from objectives.objective import Goal
from optimizer.candidate import Candidate, baseline_of
from optimizer.errors import PivotfrontError, ResultsError
from optimizer.front_curves import steering_stops
from optimizer.front_payload import wishes_of
from optimizer.goals import BUILD_YIELD
from optimizer.live_asks import Ask, Move, read_ask
from optimizer.live_desk import Desk, begins_at, named, save_scenario, use_pivot
from optimizer.live_figures import add_figures, shade_map
from optimizer.live_map import PivotMap, mapped
from optimizer.live_numbers import Numbers, at_once, curve_fields, exactly
from optimizer.live_point import Point, first_point
from optimizer.live_targets import with_target
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario, parse_scenario

if TYPE_CHECKING:
    from bokeh.document import Document

PAUSE = 0.1  # seconds without a move after which everything is measured as `try` does
BUDGET = 0.015  # seconds: where measuring everything takes less, it is done at every move
LONGEST_REST = 0.2  # seconds between two pieces of work, however many moves come
STEPS_BACK = 200  # that can be undone
MAPS = 6  # kept: those of the latest static cambers

MapKey = tuple[float | None, float | None, int]


@dataclass(frozen=True)
class Step:
    """What undo goes back to."""

    point: Point
    scenario: Scenario


class LivePage:
    """State of one page. Everything but the long work runs in the server's one thread."""

    def __init__(self, document: Document, desk: Desk) -> None:
        self.document, self.desk = document, desk
        self.scenario, self.rows = desk.scenario, desk.rows
        self.problem = PivotProblem(self.scenario)
        self.baseline = baseline_of(self.scenario)
        self.point = begins_at(desk)
        self.numbers: Numbers = exactly(self.point.candidate(self.scenario))
        self.stops, self.steer = steering_stops(self.scenario.corner)
        self.snap = False
        self.shade: Goal | None = next(iter(self.problem.traded), None)
        self.steps: list[Step] = []
        self.hand = 0  # which drag is under way
        self.wanted: Move | None = None  # the latest move that was asked for and not yet worked out
        self.answers = 0  # number of the latest ask that what is told takes in
        self.moved_at, self.timed, self.measuring = 0.0, False, False
        self.rest_until = 0.0
        self.passed_over = 0  # moves that a later one overtook before they were worked out
        self.seconds = float("inf")  # that measuring everything took when it was last done
        self.maps: dict[MapKey, PivotMap] = {}
        self.mapping: MapKey | None = None
        self.closed = False
        self.ask, self.told = add_figures(self.document, self.scenario, self.rows)
        self.ask.on_change("data", lambda _, __, data: self.heard(data))
        self.document.on_session_destroyed(lambda _: self.close())

    def close(self) -> None:
        """Nobody looks any more."""
        self.closed = True
        self.steps.clear()
        self.maps.clear()

    def tell(self, kind: str, **what: Any) -> None:
        """Tell the page something."""
        self.told.data = {"text": [json.dumps({"kind": kind, **what}, allow_nan=False)]}

    def heard(self, data: object) -> None:
        """Take what the page asks; what is no ask of ours is refused."""
        try:
            ask = read_ask(data)
        except ValueError as error:
            self.tell("said", answers=None, tone="bad", text=f"refused: {error}")
            return
        if isinstance(ask, Move):
            waiting, self.wanted = self.wanted is not None, ask
            self.passed_over += waiting
            if not waiting:  # however many moves come meanwhile, one piece of work is due
                self._move_soon()
            return
        self.answers = ask.number
        try:
            getattr(self, f"_do_{ask.do}")(ask)
        except (PivotfrontError, ValueError) as error:  # the latter of what only a page of another make asks for
            self.tell("said", answers=self.answers, tone="bad", text=str(error))
            self._show()

    def _move_soon(self) -> None:
        """Work out a move at once, or after a rest: too much work must not keep the server from hearing."""
        left = self.rest_until - time.monotonic()
        if left > 0.0:
            self.document.add_timeout_callback(self._move, math.ceil(left * 1e3))
        else:
            self.document.add_next_tick_callback(self._move)

    def _move(self) -> None:
        begin = time.monotonic()
        move, self.wanted = self.wanted, None
        if move is None or self.closed:
            return
        if move.hand != self.hand:
            self.hand = move.hand
            self._remember()
        self.answers = move.number
        try:
            self._go(self.point.moved(self.scenario, move.y, move.z, self.snap), settle=move.last)
        except PivotfrontError as error:
            self.tell("said", answers=self.answers, tone="bad", text=str(error))
        # a page that does not wait for answers leaves less time for work, or its last move would be heard long after
        end, passed_over, self.passed_over = time.monotonic(), self.passed_over, 0
        self.rest_until = end + min((1 + passed_over) * (end - begin), max(LONGEST_REST, end - begin))

    def _go(self, point: Point, *, settle: bool) -> None:
        """Look at another point: at once with what is known, then exactly."""
        around = self.maps.get(_key(point))
        if self.seconds <= BUDGET:
            self.numbers = self._timed(point.candidate(self.scenario))
        else:
            self.numbers = at_once(self.scenario, point, around)
        self.point = point
        self._show()
        self._want_map()
        self.moved_at = time.monotonic() - (PAUSE if settle else 0.0)
        if not self.numbers.exact:
            self._settle_later()

    def _timed(self, candidate: Candidate) -> Numbers:
        begin = time.perf_counter()
        found = exactly(candidate)
        self.seconds = time.perf_counter() - begin
        return found

    def _settle_later(self) -> None:
        left = self.moved_at + PAUSE - time.monotonic()
        if left > 0.0:
            if not self.timed:
                self.timed = True
                self.document.add_timeout_callback(self._time_is_up, max(1, round(left * 1e3)))
            return
        if self.measuring:
            return  # when it comes back it sees that the point has moved on
        self.measuring = True
        point = self.point
        work = self.desk.measuring.submit(lambda: self._timed(point.candidate(self.scenario)))
        self._then(work, partial(self._settled, point, self.scenario))

    def _time_is_up(self) -> None:
        self.timed = False
        if not self.closed and not self.numbers.exact:
            self._settle_later()

    def _settled(self, point: Point, scenario: Scenario, work: Future[Numbers]) -> None:
        self.measuring = False
        if point != self.point or scenario is not self.scenario:
            if not self.numbers.exact:
                self._settle_later()
            return
        try:
            self.numbers = work.result()
        except PivotfrontError as error:
            self.tell("said", answers=self.answers, tone="bad", text=str(error))
            return
        self._show()

    def _then(self, work: Future[Any], done: Callable[[Future[Any]], None]) -> None:
        """Call back in the server's thread when long work is done."""

        def call(finished: Future[Any]) -> None:
            if not self.closed and not finished.cancelled():
                self.document.add_next_tick_callback(partial(done, finished))

        work.add_done_callback(call)

    def _show(self) -> None:
        """Tell the page everything about the point it looks at."""
        numbers, problem = self.numbers, self.problem
        row = None if self.rows is None else self.rows.nearest_better(problem, numbers)
        self.tell(
            "here",
            answers=self.answers,
            exact=numbers.exact,
            point={"y": self.point.y, "z": self.point.z, "hole": self.point.hole},
            held="static_camber" if self.point.arm_length is None else "arm_length",
            values=numbers.shown(),
            broken=None if numbers.table is None else numbers.broken(problem),
            better=None if row is None else self._row(row),
            steer=self.steer,
            curves=curve_fields(numbers, self.stops[self.steer]),
            command=self.point.command(str(self.desk.file)) if self.scenario is self.desk.scenario else None,
            undo=len(self.steps),
            snap=self.snap,
        )

    def _row(self, row: int) -> dict[str, Any]:
        assert self.rows is not None
        unit, table = self.scenario.unit, self.rows.table
        values = {o.column: float(unit.show(float(table[o.name][row]), o.quantity)) for o in self.problem.traded}
        place = {name: float(unit.from_mm(float(table[f"pivot_{name}"][row]))) for name in ("y", "z")}
        return {"row": row, **place, "values": values, "gains": self.rows.gains(self.problem, self.numbers, row)}

    # what the page may ask for

    def _do_hello(self, _: Ask) -> None:
        self._tell_targets()
        self._show()
        if self.baseline is not None:
            curves = {stop.name: curve_fields(exactly(self.baseline), stop) for stop in self.stops}
            self.tell("baseline", curves=[curves[stop.name] for stop in self.stops])
        self._want_map()

    def _do_type(self, ask: Ask) -> None:
        self._change(self.point.typed(self.scenario, ask.field, ask.text))

    def _do_nudge(self, ask: Ask) -> None:
        self._change(self.point.nudged(self.scenario, ask.y, ask.z, self.snap))

    def _do_hold(self, ask: Ask) -> None:
        """Hold static camber or arm length at what it is."""
        found = self.numbers.shown()
        values = {"static_camber": found.get("static_camber_deg"), "arm_length": found.get("arm_length")}
        if (value := values[ask.field]) is None:
            raise ResultsError("this is not known here yet; wait until it is measured")
        kept = dict.fromkeys(values) | {ask.field: round(value, 6) + 0.0}
        self._change(replace(self.point, **kept))

    def _do_hole(self, ask: Ask) -> None:
        self._change(replace(self.point, hole=ask.index))

    def _do_snap(self, ask: Ask) -> None:
        self.snap = ask.on
        point = self.point.moved(self.scenario, self.point.y, self.point.z, True) if ask.on else self.point
        if point != self.point:
            self._change(point)
        else:
            self._show()

    def _do_row(self, ask: Ask) -> None:
        """Go to a row of the front."""
        if self.rows is None or not 0 <= ask.index < self.rows.candidates.count:
            raise ResultsError("there is no such row")
        y, z, camber = (float(self.rows.table[name][ask.index]) for name in ("pivot_y", "pivot_z", "static_camber"))
        unit = self.scenario.unit
        degrees = float(unit.show(camber, "angle"))
        hole = int(self.rows.candidates.hole[ask.index])
        self._change(Point(float(unit.from_mm(y)), float(unit.from_mm(z)), degrees, None, hole))

    def _do_baseline(self, _: Ask) -> None:
        if self.baseline is None:
            raise ResultsError("the scenario has no baseline")
        self._change(first_point(self.scenario, self.baseline))

    def _do_undo(self, _: Ask) -> None:
        if not self.steps:
            raise ResultsError("there is nothing to undo")
        step = self.steps.pop()
        if step.scenario is not self.scenario:
            self._take(step.scenario)
        self._go(step.point, settle=True)

    def _do_steer(self, ask: Ask) -> None:
        if not 0 <= ask.index < len(self.stops):
            raise ResultsError("there is no such steering position")
        self.steer = ask.index
        self._show()

    def _do_shade(self, ask: Ask) -> None:
        found = [objective for objective in self.scenario.measured if objective.column == ask.text]
        self.shade = found[0] if found else None
        self._tell_map()

    def _do_target(self, ask: Ask) -> None:
        """Move an aim or a limit: in the scenario's text, which is then read as any file is."""
        objective = self._objective(ask.field)
        text = with_target(self.scenario.text, self.scenario.unit, objective, ask.which, ask.text)
        try:
            changed = parse_scenario(text, self.desk.file.name)
        except PivotfrontError:
            self._tell_targets()
            raise
        self._remember()
        self._take(changed)
        self._show_again()

    def _objective(self, column: str) -> Goal:
        found = [objective for objective in self.scenario.measured if objective.column == column]
        if not found:
            raise ResultsError("there is no such objective here")
        return found[0]

    def _do_use(self, ask: Ask) -> None:
        if not self.numbers.exact:
            raise ResultsError("this pivot is still being measured; try again in a moment")
        if broken := self.numbers.broken(self.problem):
            raise ResultsError(f"not written, for it is unusable: {'; '.join(broken)}")
        place = named(self.desk.file.parent, ask.text)
        self.tell("said", answers=self.answers, tone="busy", text=f"writing {place.name} ...")
        work = self.desk.measuring.submit(use_pivot, place, self.numbers.candidate, self.rows)
        self._then(work, partial(self._written, f"wrote {place}; open rationale.html there, and read its cautions"))

    def _do_save(self, ask: Ask) -> None:
        place = named(self.desk.file.parent, ask.text, ".toml")
        save_scenario(place, self.scenario.text)
        self.tell("said", answers=self.answers, tone="good", text=f"wrote {place}")

    def _written(self, text: str, work: Future[None]) -> None:
        error = work.exception()
        if error is None:
            self.tell("said", answers=None, tone="good", text=text)
        else:
            known = isinstance(error, PivotfrontError)
            self.tell("said", answers=None, tone="bad", text=str(error) if known else f"not written: {error!r}")

    # changes

    def _change(self, point: Point) -> None:
        """Go to a point that was asked for by name; refused as a whole where it is no candidate."""
        point.candidate(self.scenario)
        self._remember()
        self._go(point, settle=True)

    def _remember(self) -> None:
        step = Step(self.point, self.scenario)
        if not self.steps or self.steps[-1] != step:
            self.steps = [*self.steps[1 - STEPS_BACK :], step]

    def _take(self, scenario: Scenario) -> None:
        """Go on with a scenario that asks for something else; what is settled of the corner is the same."""
        self.scenario, self.problem = scenario, PivotProblem(scenario)
        self._tell_targets()
        self._tell_map()

    def _show_again(self) -> None:
        """The same pivot, of which something else is asked: what is measured of it stays as it is."""
        self.numbers = replace(self.numbers, candidate=replace(self.numbers.candidate, scenario=self.scenario))
        self._show()

    def _tell_targets(self) -> None:
        measured = [objective.column for objective in self.scenario.measured]
        targets = {
            objective.column: {
                which: None if value is None else float(self.scenario.unit.show(value, objective.quantity))
                for which, value in (("aim", target.aim), ("limit", target.limit))
            }
            for objective in self.scenario.measured
            for target in (self.scenario.targets[objective.name],)
        }
        # the map has the build yield, which takes long, only where something is asked of it
        shades = [o.column for o in self.scenario.measured if o is not BUILD_YIELD or o.name in self.problem.needed]
        changed = self.scenario.text != self.desk.scenario.text
        self.tell(
            "asked", measured=measured, shades=shades, targets=targets, wishes=wishes_of(self.scenario), changed=changed
        )

    # the map

    def _want_map(self) -> None:
        key = _key(self.point)
        if key in self.maps:
            if key != self.mapping:
                self.mapping = key
                self._tell_map()
            return
        if self.mapping == key:
            return
        self.mapping = key
        self._tell_map()
        self._slice(key, mapped(self.scenario, self.point))

    def _slice(self, key: MapKey, slices: Iterator[float | PivotMap]) -> None:
        self._then(self.desk.mapping.submit(next, slices), partial(self._sliced, key, slices))

    def _sliced(self, key: MapKey, slices: Iterator[float | PivotMap], work: Future[float | PivotMap]) -> None:
        if key != self.mapping:
            return  # the pivot has another static camber by now: nobody wants the rest
        found = work.result()
        if not isinstance(found, PivotMap):
            self.tell("progress", share=found)
            self._slice(key, slices)
            return
        while len(self.maps) >= MAPS:
            self.maps.pop(next(iter(self.maps)))
        self.maps[key] = found
        self._tell_map()

    def _tell_map(self) -> None:
        around = self.maps.get(_key(self.point))
        legend = shade_map(self.document, self.scenario, self.problem, around, self.shade)
        self.tell("map", by=None if self.shade is None else self.shade.column, **legend)


def _key(point: Point) -> MapKey:
    return point.static_camber, point.arm_length, point.hole
