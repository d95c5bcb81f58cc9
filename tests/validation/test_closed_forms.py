"""Planar corners whose motion has a closed form or an instant centre.

Milliken & Milliken, Race Car Vehicle Dynamics, 1995, ch. 17; Dixon, Suspension Geometry and Computation,
2009; Reimpell, Stoll & Betzler, The Automotive Chassis, 2001 (relations from memory, pages unverified).
They hold for inner axes along x and no steer about an inclined kingpin, so every corner here has the
tie-rod layout that makes toe constant: inner joint on the lower inner axis, outer joint beside the lower
outer pivot.
"""

from __future__ import annotations

import numpy as np
import pytest

from objectives.corner import (
    Candidates,
    Corner,
    LowerArm,
    RodEnd,
    Spindle,
    Steering,
    Travel,
    Tyre,
    UpperAxis,
)
from objectives.curves import Curves, curves_at

EXACT = 1e-10  # mm or rad: rounding only
ALONG_X = np.array([1.0, 0.0, 0.0])
TRAVEL = np.linspace(-120.0, 100.0, 23)
HALF_TRACK, GROUND, LOADED = 780.0, -270.0, 360.0
WHEEL_Z = GROUND + LOADED
LOWER, UPPER = np.array([6.0, -88.0, -112.0]), np.array([-18.0, -118.0, 118.0])

# Central difference on five points: the truncated term is STEP^4 / 30 times a fifth derivative of order
# (arm length)^-4, some 1e-9 of the slope; rounding is 1e-13 / STEP.
STEP = 0.5  # mm of travel
SLOPE = 1e-8


def planar_corner(
    lower_inner: tuple[float, float],
    *,
    camber: float = 0.0,
    steering_x: float = -110.0,
    inner_x: float = -60.0,
) -> Corner:
    """Axes along x, no bump steer; `lower_inner` is the lower inner pivot's y and z, `camber` in radians."""
    return Corner(
        half_track=HALF_TRACK,
        ground_z=GROUND,
        static_camber=camber,
        static_toe=0.0,
        tyre=Tyre(368.0, 236.0, 35.0, LOADED),
        spindle=Spindle(LOWER, UPPER, LOWER + np.array([steering_x, 0.0, 0.0])),
        lower_arm=LowerArm(np.array([0.0, *lower_inner]), ALONG_X),
        upper_axis=UpperAxis(0.0, ALONG_X),
        steering=Steering(
            np.array([inner_x, *lower_inner]),
            RodEnd(np.array([0.0, 0.0, 1.0]), np.radians(28)),
            RodEnd(ALONG_X, np.radians(30)),
        ),
        travel=Travel(bump=490.0, droop=330.0, droop_cap=330.0),
        camber_curve=np.array([[-120.0, 0.0], [100.0, 0.0]]),
    )


def instant_centre(corner: Corner, candidate: Candidates, curves: Curves) -> np.ndarray:
    """Front-view meeting point of the two arms' lines, y and z, (2, positions)."""
    inner = [corner.lower_arm.inner_pivot[1:], np.array([candidate.pivot_y[0], candidate.pivot_z[0]])]
    outer = [curves.lower_outer[1:, 0], curves.upper_outer[1:, 0]]
    found = []
    for position in range(outer[0].shape[1]):
        lower, upper = (o[:, position] - i for o, i in zip(outer, inner, strict=True))
        along = np.linalg.solve(np.column_stack([lower, -upper]), inner[1] - inner[0])[0]
        found.append(inner[0] + along * lower)
    return np.array(found).T


def slope(corner: Corner, candidate: Candidates, quantity: str) -> np.ndarray:
    """Derivative by travel of one of the curves at `TRAVEL`; vectors keep their axis first."""
    near = [curves_at(corner, candidate, TRAVEL + k * STEP) for k in (-2, -1, 1, 2)]
    at = [getattr(curves, quantity)[..., 0, :] for curves in near]
    derivative: np.ndarray = (at[0] - 8.0 * at[1] + 8.0 * at[2] - at[3]) / (12.0 * STEP)
    return derivative


class TestEqualParallelArms:
    """The spindle only shifts: camber stays, every point moves on the arms' circle."""

    RADIUS, RIDE_ANGLE = 400.0, np.radians(-12.0)  # outer end below the inner one

    @pytest.fixture
    def case(self) -> tuple[Corner, Candidates]:
        inboard = -self.RADIUS * np.array([np.cos(self.RIDE_ANGLE), np.sin(self.RIDE_ANGLE)])
        wheel = np.array([HALF_TRACK, WHEEL_Z])
        lower_y, lower_z = wheel + LOWER[1:] + inboard
        upper_y, upper_z = wheel + UPPER[1:] + inboard
        return planar_corner((lower_y, lower_z)), Candidates(upper_y, upper_z, 0.0)

    def test_camber_and_toe_do_not_change(self, case: tuple[Corner, Candidates]) -> None:
        curves = curves_at(*case, TRAVEL)
        assert np.abs(curves.camber).max() < EXACT
        assert np.abs(curves.toe).max() < EXACT

    def test_contact_centre_moves_on_the_arms_circle(self, case: tuple[Corner, Candidates]) -> None:
        curves = curves_at(*case, TRAVEL)
        angle = np.arcsin(np.sin(self.RIDE_ANGLE) + TRAVEL / self.RADIUS)
        shift = self.RADIUS * (np.cos(angle) - np.cos(self.RIDE_ANGLE))
        assert curves.contact[1, 0] - HALF_TRACK == pytest.approx(shift, abs=EXACT)
        assert curves.contact[2, 0] - GROUND == pytest.approx(TRAVEL, abs=EXACT)
        assert curves.arm_length[0] == pytest.approx(self.RADIUS, abs=EXACT)

    def test_goes_no_higher_than_upright_arms(self, case: tuple[Corner, Candidates]) -> None:
        """No wheel height lies above the arms' vertical: r(1 - sin a0)."""
        bump = self.RADIUS * (1.0 - np.sin(self.RIDE_ANGLE))
        travel = np.array([0.0, bump - 0.1, bump + 0.1])
        assert np.isfinite(curves_at(*case, travel).camber[0]).tolist() == [True, True, False]

    def test_droop_ends_where_the_tie_rod_lies_in_line(self, case: tuple[Corner, Candidates]) -> None:
        """The tie rod keeps parallel to the arms, so it comes in line with the spindle, and may flip there,
        where the arms hang parallel to the kingpin."""
        kingpin = UPPER - LOWER
        in_line = self.RADIUS * (np.sin(self.RIDE_ANGLE) + kingpin[2] / np.hypot(kingpin[1], kingpin[2]))
        travel = np.array([-in_line - 0.1, -in_line + 0.1, 0.0])
        assert np.isfinite(curves_at(*case, travel).camber[0]).tolist() == [False, True, True]


PLANAR = [
    pytest.param((250.0, 20.0), (300.0, 235.0), 0.0, id="arms meet inboard"),
    pytest.param((250.0, 20.0), (345.0, 200.0), 0.0, id="short upper arm"),
    pytest.param((250.0, -60.0), (280.0, 225.0), np.radians(-2.5), id="static camber"),
    pytest.param((240.0, 60.0), (420.0, 190.0), np.radians(1.5), id="roll centre high"),
]


@pytest.mark.parametrize(("lower", "upper", "camber"), PLANAR)
class TestInstantCentre:
    """The wheel turns about the arms' meeting point: L inboard of it, h above the contact centre.

    Per unit travel of the wheel centre L is measured from the wheel centre; on an upright wheel this is the
    contact centre's distance too.
    """

    def test_camber_slope(self, lower: tuple[float, float], upper: tuple[float, float], camber: float) -> None:
        corner, candidate = planar_corner(lower, camber=camber), Candidates(*upper, camber)
        curves = curves_at(corner, candidate, TRAVEL)
        arm = curves.wheel[1, 0] - instant_centre(corner, candidate, curves)[0]
        assert slope(corner, candidate, "camber") == pytest.approx(-1.0 / arm, rel=1e-6, abs=SLOPE)

    def test_contact_path_slope(self, lower: tuple[float, float], upper: tuple[float, float], camber: float) -> None:
        corner, candidate = planar_corner(lower, camber=camber), Candidates(*upper, camber)
        curves = curves_at(corner, candidate, TRAVEL)
        arm, height = curves.contact[1:, 0] - instant_centre(corner, candidate, curves)
        path = slope(corner, candidate, "contact")
        assert path[1] / path[2] == pytest.approx(-height / arm, rel=1e-6, abs=SLOPE)

    def test_roll_centre_lies_on_the_line_from_contact_to_instant_centre(
        self, lower: tuple[float, float], upper: tuple[float, float], camber: float
    ) -> None:
        corner, candidate = planar_corner(lower, camber=camber), Candidates(*upper, camber)
        curves = curves_at(corner, candidate, TRAVEL)
        contact = curves.contact[1:, 0]
        arm, height = contact - instant_centre(corner, candidate, curves)
        at_centre_plane = contact[1] - contact[0] * height / arm
        # Half a track of 780 mm times the slope's tolerance.
        assert curves.roll_centre_z[0] == pytest.approx(at_centre_plane, abs=1e-5)


@pytest.mark.parametrize("steering_x", [-110.0, 95.0], ids=["behind", "in front"])
@pytest.mark.parametrize("inner_x", [0.0, -110.0, 40.0])
@pytest.mark.parametrize(("lower", "upper", "camber"), PLANAR)
def test_no_bump_steer_layout(
    lower: tuple[float, float], upper: tuple[float, float], camber: float, inner_x: float, steering_x: float
) -> None:
    """Both ends of the tie rod on the lower arm's own axes: it moves as part of the arm and never steers.

    The inner joint may stand anywhere on the lower inner axis.
    """
    corner = planar_corner(lower, camber=camber, inner_x=inner_x, steering_x=steering_x)
    curves = curves_at(corner, Candidates(*upper, camber), TRAVEL)
    assert np.abs(curves.toe).max() < EXACT
    assert curves.steering_outer - curves.lower_outer == pytest.approx(
        np.broadcast_to(np.array([steering_x, 0.0, 0.0])[:, None, None], curves.wheel.shape), abs=1e-9
    )


def test_a_shorter_upper_arm_gives_more_top_in_camber_at_both_ends() -> None:
    """Common practice, no source. Arms level at ride; the upper one shortened from its inner end."""
    wheel = np.array([HALF_TRACK, WHEEL_Z])
    lower_y, lower_z = wheel + LOWER[1:] - [400.0, 0.0]
    upper_y, upper_z = wheel + UPPER[1:]
    corner = planar_corner((lower_y, lower_z))
    lengths = np.array([400.0, 360.0, 320.0, 280.0, 240.0])
    curves = curves_at(corner, Candidates(upper_y - lengths, upper_z, 0.0), np.array([-90.0, 90.0]))
    assert curves.arm_length == pytest.approx(lengths, abs=EXACT)
    assert (np.diff(curves.camber, axis=0) < -np.radians(0.1)).all()
