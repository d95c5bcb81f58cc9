"""One live page: hears what it asks, works it out, and tells it; every page has its own."""

from __future__ import annotations

import math
import time
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
from optimizer.live_channel import Channel
from optimizer.live_desk import Desk, begins_at, named, save_scenario, use_pivot
from optimizer.live_figures import add_figures
from optimizer.live_numbers import Numbers, Rows, at_once, curve_fields, exactly
from optimizer.live_point import Point, first_point
from optimizer.live_surroundings import Surroundings
from optimizer.live_targets import with_target
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario, parse_scenario

if TYPE_CHECKING:
    from bokeh.document import Document

PAUSE = 0.2  # seconds without a move after which everything is measured as `try` does
BUDGET = 0.006  # seconds: where measuring everything takes less, it is done at every move, beside 8 ms for the curves
LONGEST_REST = 0.2  # seconds between two pieces of work, however many moves come
STEPS_BACK = 200  # that can be undone


@dataclass(frozen=True)
class Step:
    """What undo goes back to."""

    point: Point
    scenario: Scenario


class LivePage:
    """State of one page. Everything but the long work runs in the server's one thread."""

    def __init__(self, document: Document, desk: Desk) -> None:
        self.desk = desk
        self.scenario, self.rows = desk.scenario, desk.rows
        self.problem = PivotProblem(self.scenario)
        self.baseline = baseline_of(self.scenario)
        self.point = begins_at(desk)
        self.numbers: Numbers = exactly(self.point.candidate(self.scenario))
        self.stops, self.steer = steering_stops(self.scenario.corner)
        self.snap = False
        self.steps: list[Step] = []
        self.hand = 0  # which drag is under way
        self.wanted: Move | None = None  # the latest move that was asked for and not yet worked out
        self.rest_until = 0.0
        self.moved_at, self.timed, self.measuring = 0.0, False, False
        self.passed_over = 0  # moves that a later one overtook before they were worked out
        self.seconds = float("inf")  # that measuring everything took when it was last done
        ask, told = add_figures(document, self.scenario, self.rows)
        self.channel = Channel(document, told)
        self.around = Surroundings(self.channel, desk, self.problem)
        ask.on_change("data", lambda _, __, data: self.heard(data))
        document.on_session_destroyed(lambda _: self.close())

    def close(self) -> None:
        """Nobody looks any more."""
        self.channel.closed = True
        self.steps.clear()
        self.around.maps.clear()

    def heard(self, data: object) -> None:
        """Take what the page asks; what is no ask of ours is refused."""
        try:
            ask = read_ask(data)
        except ValueError as error:
            self.channel.say("bad", f"refused: {error}", refused=True)
            return
        if isinstance(ask, Move):
            waiting, self.wanted = self.wanted is not None, ask
            self.passed_over += waiting
            if not waiting:  # however many moves come meanwhile, one piece of work is due
                self._move_soon()
            return
        self.channel.answers = ask.number
        try:
            getattr(self, f"_do_{ask.do}")(ask)
        except (PivotfrontError, ValueError) as error:  # the latter of what only a page of another make asks for
            self.channel.say("bad", str(error))
            self._show()
        except Exception as error:  # a fault of ours: without a word the page would wait for its answer for ever
            self.channel.say("bad", _fault(error))

    def _move_soon(self) -> None:
        """Work out a move at once, or after a rest: too much work must not keep the server from hearing."""
        left = self.rest_until - time.monotonic()
        document = self.channel.document
        if left > 0.0:
            document.add_timeout_callback(self._move, math.ceil(left * 1e3))
        else:
            document.add_next_tick_callback(self._move)

    def _move(self) -> None:
        begin = time.monotonic()
        move, self.wanted = self.wanted, None
        if move is None or self.channel.closed:
            return
        if move.hand != self.hand:
            self.hand = move.hand
            self._remember()
        self.channel.answers = move.number
        try:
            self._go(self.point.moved(self.scenario, move.y, move.z, self.snap), settle=move.last)
        except PivotfrontError as error:
            self.channel.say("bad", str(error))
        except Exception as error:
            self.channel.say("bad", _fault(error))
        # a page that does not wait for answers leaves less time for work, or its last move would be heard long after
        end, passed_over, self.passed_over = time.monotonic(), self.passed_over, 0
        self.rest_until = end + min((1 + passed_over) * (end - begin), max(LONGEST_REST, end - begin))

    def _go(self, point: Point, *, settle: bool) -> None:
        """Look at another point: at once with what is known, then exactly."""
        if self.seconds <= BUDGET:
            self.numbers = self._timed(point.candidate(self.scenario))
        else:
            self.numbers = at_once(self.scenario, point, self.around.at(point))
        self.point = point
        self._show()
        self.around.want(point)
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
                self.channel.document.add_timeout_callback(self._time_is_up, max(1, round(left * 1e3)))
            return
        if self.measuring:
            return  # when it comes back it sees that the point has moved on
        self.measuring = True
        point = self.point
        work = self.desk.measuring.submit(lambda: self._timed(point.candidate(self.scenario)))
        self.channel.then(work, partial(self._settled, point, self.scenario))

    def _time_is_up(self) -> None:
        self.timed = False
        if not self.channel.closed and not self.numbers.exact:
            self._settle_later()

    def _settled(self, point: Point, scenario: Scenario, work: Future[Numbers]) -> None:
        self.measuring = False
        if point != self.point or scenario is not self.scenario:
            if not self.numbers.exact:
                self._settle_later()
            return
        if (error := work.exception()) is not None:
            self.channel.say("bad", str(error) if isinstance(error, PivotfrontError) else _fault(error))
            return
        self.numbers = work.result()
        self._show()

    def _show(self) -> None:
        """Tell the page everything about the point it looks at."""
        numbers, problem = self.numbers, self.problem
        rows = self.rows if self.rows is not None and self.rows.knows(problem) else None
        row = None if rows is None else rows.nearest_better(problem, numbers)
        self.channel.tell(
            "here",
            exact=numbers.exact,
            point={"y": self.point.y, "z": self.point.z, "hole": self.point.hole},
            held="static_camber" if self.point.arm_length is None else "arm_length",
            values=numbers.shown(),
            broken=None if numbers.table is None else numbers.broken(problem),
            better=None if row is None else self._row(row),
            compared=rows is not None and numbers.table is not None,
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
        self._know_rows()
        self._show()
        if self.baseline is not None:
            curves = {stop.name: curve_fields(exactly(self.baseline), stop) for stop in self.stops}
            self.channel.tell("baseline", curves=[curves[stop.name] for stop in self.stops])
        self.around.want(self.point)

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
        self.around.shade_by(found[0] if found else None)

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
        self.numbers = self.numbers.asked_otherwise(changed)
        self.moved_at = time.monotonic() - PAUSE
        self._show()
        self._settle_later()

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
        self.channel.say("busy", f"writing {place.name} ...")
        work = self.desk.measuring.submit(use_pivot, place, self.numbers.candidate, self.rows)
        words = f"wrote {place}; open rationale.html there, and read its cautions"
        self.channel.then(work, partial(self._written, words))

    def _do_save(self, ask: Ask) -> None:
        place = named(self.desk.file.parent, ask.text, ".toml")
        save_scenario(place, self.scenario.text)
        self.channel.say("good", f"wrote {place}")

    def _written(self, text: str, work: Future[None]) -> None:
        error = work.exception()
        if error is None:
            self.channel.say("good", text)
        else:
            known = isinstance(error, PivotfrontError)
            self.channel.say("bad", str(error) if known else f"not written: {error!r}")

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
        self.around.judge(self.point, self.problem)
        self.rows = self.desk.rows
        self._know_rows()

    def _know_rows(self) -> None:
        """Build the rows anew where their build yields matter and are those of other limits."""
        if self.rows is not None and not self.rows.knows(self.problem):
            work = self.desk.mapping.submit(self.rows.rebuilt, self.scenario)
            self.channel.then(work, partial(self._rebuilt, self.scenario))

    def _rebuilt(self, scenario: Scenario, work: Future[Rows]) -> None:
        if scenario is self.scenario:
            self.rows = work.result()
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
        self.channel.tell(
            "asked", measured=measured, shades=shades, targets=targets, wishes=wishes_of(self.scenario), changed=changed
        )


def _fault(error: BaseException) -> str:
    return f"this failed inside pivotfront, and the page may lag behind: {error!r}"
