"""The shaded surroundings of one live page's pivot: measured in slices, kept for the latest static cambers, drawn."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future
from functools import partial

from objectives.objective import Goal
from optimizer.goals import BUILD_YIELD
from optimizer.live_channel import Channel
from optimizer.live_desk import Desk
from optimizer.live_figures import shade_map
from optimizer.live_map import PivotMap, mapped
from optimizer.live_point import Point
from optimizer.problem import PivotProblem
from optimizer.scenario import Scenario

MAPS = 6  # kept: those of the latest static cambers

MapKey = tuple[float | None, float | None, int]


class Surroundings:
    """Maps around the pivots of one page; those of one static camber, or arm length, and hole are the same."""

    def __init__(self, channel: Channel, desk: Desk, problem: PivotProblem) -> None:
        self.channel, self.desk, self.problem = channel, desk, problem
        self.shade: Goal | None = next(iter(problem.traded), None)
        self.maps: dict[MapKey, PivotMap] = {}
        self.wanted: MapKey | None = None
        self.errand = 0  # which measuring is under way

    @property
    def scenario(self) -> Scenario:
        """Of whose limits it tells."""
        return self.problem.scenario

    def at(self, point: Point) -> PivotMap | None:
        """The map that a point lies in, if it is measured."""
        return self.maps.get(_key(point))

    def put(self, point: Point, around: PivotMap) -> None:
        """Keep a map, and let go of the oldest where there are too many."""
        while len(self.maps) >= MAPS:
            self.maps.pop(next(iter(self.maps)))
        self.maps[_key(point)] = around

    def want(self, point: Point) -> None:
        """Draw the map of a point, or begin to measure it."""
        key = _key(point)
        if key == self.wanted:
            return
        self.wanted = key
        self.show()
        if key not in self.maps:
            self.errand += 1
            self._slice(point, mapped(self.scenario, point))

    def judge(self, point: Point, problem: PivotProblem) -> None:
        """Hatch by other limits: what was measured is the same, but for the build yield, which counts by them."""
        built = BUILD_YIELD.name in self.problem.needed | problem.needed
        self.problem = problem
        if built:
            self.maps.clear()
            self.wanted = None
            self.want(point)
        else:
            self.show()

    def shade_by(self, shade: Goal | None) -> None:
        """Shade by another objective, or by none."""
        self.shade = shade
        self.show()

    def show(self) -> None:
        """Draw what there is, and tell what it means."""
        around = None if self.wanted is None else self.maps.get(self.wanted)
        legend = shade_map(self.channel.document, self.scenario, self.problem, around, self.shade)
        self.channel.tell("map", by=None if self.shade is None else self.shade.column, **legend)

    def _slice(self, point: Point, slices: Iterator[float | PivotMap]) -> None:
        self.channel.then(self.desk.mapping.submit(next, slices), partial(self._sliced, self.errand, point, slices))

    def _sliced(
        self, errand: int, point: Point, slices: Iterator[float | PivotMap], work: Future[float | PivotMap]
    ) -> None:
        if errand != self.errand or _key(point) != self.wanted:
            return  # another static camber by now, or other limits: nobody wants the rest
        found = work.result()
        if not isinstance(found, PivotMap):
            self.channel.tell("progress", share=found)
            self._slice(point, slices)
            return
        self.put(point, found)
        self.show()


def _key(point: Point) -> MapKey:
    return point.static_camber, point.arm_length, point.hole
