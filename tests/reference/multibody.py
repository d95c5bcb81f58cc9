"""One corner built in exudyn, a general-purpose multibody library, and swept by its static solver.

Lower arm, upper arm and spindle are rigid bodies with Euler parameters; each arm hangs on a skew hinge in the
ground and carries the spindle by a spherical joint; the inner tie-rod joint is a point held where steering puts
it, and the tie rod keeps its distance to the spindle. The height of the wheel centre is prescribed. Ride is the
reference configuration; from there the inner joint first moves sideways, then the wheel up or down, in steps
small enough to stay on the way of assembling that holds at ride.

Names of items and settings are those of exudyn 1.13; older names raise a DeprecationWarning there, which the test
run turns into an error.
"""

from __future__ import annotations

from typing import Any

import exudyn
import numpy as np
from exudyn.itemInterface import (
    MarkerBodyPosition,
    MarkerBodyRigid,
    MarkerNodeCoordinate,
    NodePoint,
    NodePointGround,
    NodeRigidBodyEP,
    ObjectConnectorCoordinate,
    ObjectConnectorDistance,
    ObjectGround,
    ObjectJointGeneric,
    ObjectJointSpherical,
    ObjectMassPoint,
    ObjectRigidBody,
)
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from tests.reference.rigid_body import Gear, Hardpoints, measured, rack_gear

Array = NDArray[np.float64]

LARGEST_STEP = 10.0  # mm of travel, or of the inner joint along its way, between two solutions
NEWTON = 3e-12  # the solver's tolerance on its residual (mm, direction cosines); at 1e-13 rounding stops it
NO_TURN = [1.0, 0.0, 0.0, 0.0]  # Euler parameters


class Mechanism:
    """The corner as a multibody system; solved at one height and one steering position after another."""

    def __init__(self, points: Hardpoints, gear: Gear) -> None:
        self.points, self.gear = points, gear
        self.container = exudyn.SystemContainer()
        self.system = self.container.AddSystem()
        self.ground = self._add(ObjectGround())
        self.still = self.system.AddMarker(
            MarkerNodeCoordinate(nodeNumber=self.system.AddNode(NodePointGround()), coordinate=0)
        )
        self.spindle, carrier = self._body(points.wheel)
        for axis, outer in ((points.lower_axis, points.lower_outer), (points.upper_axis, points.upper_outer)):
            self._arm(axis, outer, carrier)
        self.held = self._tie_rod(carrier)
        self.lift = self._prescribed(self.spindle, 2)
        self.system.Assemble()
        self.at = np.zeros(2)
        self.settings = _settings()

    def _add(self, thing: Any) -> Any:
        return self.system.AddObject(thing)

    def _body(self, place: Array) -> tuple[Any, Any]:
        """Rigid body with its axes parallel to the frame's: its node and itself. Its mass plays no part."""
        node = self.system.AddNode(NodeRigidBodyEP(referenceCoordinates=[*place, *NO_TURN]))
        return node, self._add(ObjectRigidBody(mass=1.0, inertia=[1.0, 1.0, 1.0, 0.0, 0.0, 0.0], nodeNumber=node))

    def _point(self, body: Any, place: Array) -> Any:
        return self.system.AddMarker(MarkerBodyPosition(bodyNumber=body, localPosition=place))

    def _hinge_frame(self, body: Any, place: Array, turn: Array) -> Any:
        transform = np.eye(4)
        transform[:3, :3], transform[:3, 3] = turn, place
        return self.system.AddMarker(MarkerBodyRigid(bodyNumber=body, localHT=transform))

    def _arm(self, axis: Array, outer: Array, carrier: Any) -> None:
        pivot = axis.mean(axis=0)
        turn = _frame_along(axis[1] - axis[0])
        arm = self._body(pivot)[1]
        ends = [self._hinge_frame(self.ground, pivot, turn), self._hinge_frame(arm, np.zeros(3), turn)]
        # free: the turn about the first axis
        self._add(ObjectJointGeneric(markerNumbers=ends, constrainedAxes=[1, 1, 1, 0, 1, 1]))
        joint = [self._point(arm, outer - pivot), self._point(carrier, outer - self.points.wheel)]
        self._add(ObjectJointSpherical(markerNumbers=joint))

    def _tie_rod(self, carrier: Any) -> list[Any]:
        """Tie rod and inner joint; returns what holds the joint's x, y and z."""
        inner, outer = self.points.inner_joint, self.points.steering_outer
        node = self.system.AddNode(NodePoint(referenceCoordinates=inner))
        joint = self._add(ObjectMassPoint(mass=1.0, nodeNumber=node))
        held = [self._prescribed(node, coordinate) for coordinate in range(3)]
        ends = [self._point(joint, np.zeros(3)), self._point(carrier, outer - self.points.wheel)]
        self._add(ObjectConnectorDistance(markerNumbers=ends, distance=float(np.linalg.norm(outer - inner))))
        return held

    def _prescribed(self, node: Any, coordinate: int) -> Any:
        """Hold one coordinate of a node at an offset from where it is at ride."""
        marker = self.system.AddMarker(MarkerNodeCoordinate(nodeNumber=node, coordinate=coordinate))
        return self._add(ObjectConnectorCoordinate(markerNumbers=[self.still, marker], offset=0.0))

    def go(self, travel: float, gone: float) -> None:
        """Move from the last position to another in small steps.

        Raises
        ------
        exudyn.SolverError
            The static solver found no solution.
        """
        start, end = self.at, np.array([travel, gone])
        steps = max(1, int(np.ceil(np.abs(end - start).max() / LARGEST_STEP)))
        for share in np.arange(1, steps + 1) / steps:
            lift, way = start + share * (end - start)
            for item, offset in zip((self.lift, *self.held), (lift, *self.gear(float(way))), strict=True):
                self.system.SetObjectParameter(item, "offset", float(offset))
            self.system.SolveStatic(self.settings, updateInitialValues=True, storeSolver=False)
        self.at = end

    def measured(self) -> dict[str, Array]:
        """Return what `rigid_body.measured` does at the last position."""

        def of_spindle(kind: Any) -> Array:
            return np.array(self.system.GetNodeOutput(self.spindle, kind))

        kinds = exudyn.OutputVariableType
        turn = Rotation.from_matrix(of_spindle(kinds.RotationMatrix).reshape(3, 3))
        return measured(self.points, of_spindle(kinds.Position), turn, self.gear(float(self.at[1])))


def solve(points: Hardpoints, travel: Array, gone: float = 0.0, gear: Gear = rack_gear) -> dict[str, Array]:
    """Sweep one corner over `travel` (P,), mm, with the inner joint `gone` mm along its way.

    Angles in radians (P,), points in mm (3, P), by name.
    """
    found: list[dict[str, Array]] = [{} for _ in travel]
    for side in (travel >= 0.0, travel < 0.0):
        mechanism = Mechanism(points, gear)
        mechanism.go(0.0, gone)
        for index in sorted(np.flatnonzero(side), key=lambda i: abs(travel[i])):
            mechanism.go(float(travel[index]), gone)
            found[index] = mechanism.measured()
        mechanism.container.Reset()
    return {name: np.stack([place[name] for place in found], axis=-1) for name in found[0]}


def _frame_along(axis: Array) -> Array:
    """Rotation matrix (3, 3) whose first column is the direction of `axis`."""
    first = axis / np.linalg.norm(axis)
    second = np.cross([0.0, 0.0, 1.0], first)
    second /= np.linalg.norm(second)
    return np.column_stack([first, second, np.cross(first, second)])


def _settings() -> Any:
    settings = exudyn.SimulationSettings()
    settings.solution.file.write = False
    settings.staticSolver.verboseMode = 0
    settings.staticSolver.newton.relativeTolerance = NEWTON
    settings.staticSolver.newton.absoluteTolerance = NEWTON
    return settings
