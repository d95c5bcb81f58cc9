"""What the welding table needs on one page: where the brackets go, how long everything is, what to measure then."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from objectives.corner import Candidates
from objectives.curves import Curves, curves_at
from objectives.inverse import static_camber_for
from objectives.vectors import Array
from optimizer.candidate import with_inner_joint
from optimizer.page import Block, Heading, Table, Text
from optimizer.rationale import say_pivot
from optimizer.shop_corner import HEIGHTS, ShopCorner
from optimizer.shop_words import at_most, decimal, fraction, shop, short
from optimizer.units import INCH, MM

BLANK = ""  # a cell to write into
UNDER_WHEEL = 50.0  # mm left under the tyre at full droop on the stands, at least


def build_blocks(built: ShopCorner) -> list[Block]:
    """Everything on the build sheet but its title and the cautions."""
    return [
        Text(_what(built)),
        Heading("Where the brackets go"),
        Text(_axes_words(built)),
        _brackets(built),
        Heading("Lengths and stops"),
        _lengths(built),
        Text(_stop_words(built)),
        Heading("Measure the tacked car before you weld"),
        Text(_how_to_measure(built)),
        _check_list(built),
        Text(_allowed(built)),
        Table(("measured by", "on", "frame and wheel heights checked by"), [[BLANK, BLANK, BLANK]]),
    ]


def _what(built: ShopCorner) -> str:
    found = say_pivot(built.candidate, built.found["arm_length"])
    camber = float(np.degrees(built.candidate.static_camber))
    at_ride = built.curves
    caster, kingpin = (
        float(np.degrees(getattr(at_ride, name)[0, HEIGHTS.index("ride")])) for name in ("caster", "kingpin")
    )
    return (
        f"Left front corner; the right one is its mirror image. {found[0].upper()}{found[1:]}. At ride: static camber "
        f"{camber:+.2f} deg, caster {caster:.2f} deg, kingpin inclination {kingpin:.2f} deg."
    )


def _axes_words(built: ShopCorner) -> str:
    upper, lower = (arm.circle.axis for arm in built.arms)

    def say(axis: Array) -> str:
        slope, turn = np.degrees(np.arcsin(axis[2])), np.degrees(np.arctan2(axis[1], axis[0]))
        return f"front end {slope + 0.0:+.2f} deg up, {turn + 0.0:+.2f} deg outboard"

    words = (
        "x forward of the front axle, y out from the vehicle's centre plane, z up from the frame datum; hole centres. "
        f"Inner axis of the upper arm: {say(upper)}; of the lower arm: {say(lower)}."
    )
    reference = built.scenario.build.reference
    if reference is None:
        return f"{words} A second place to measure from is given as reference in [build]."
    at = ", ".join(f"{axis} {short(built.scenario, getattr(reference, axis))}" for axis in "xyz")
    return f"{words} Second reference: {reference.name}, at {at}."


def _brackets(built: ShopCorner) -> Table:
    scenario, reference = built.scenario, built.scenario.build.reference
    head = [f"hole centre, {scenario.unit.symbol}", "x", "y", "z"]
    if reference is not None:
        head += [f"{axis} from 2nd" for axis in "xyz"]
    head += ["held to", "x measured", "y measured", "z measured"]
    rows = []
    for point in built.frame_points:
        cells = [_coordinate(built, float(part)) for part in point.at]
        if reference is not None:
            away = point.at - np.array([reference.x, reference.y, reference.z])
            cells += [_coordinate(built, float(part)) for part in away]
        held = _tolerance(built, point.tolerance or 0.0)
        hole = "" if point.hole is None else f", hole {point.hole:g} mm"
        rows.append([f"{point.name}{hole}", *cells, f"\N{PLUS-MINUS SIGN}{held}", BLANK, BLANK, BLANK])
    return Table(head, rows)


def _coordinate(built: ShopCorner, length: float) -> str:
    """One coordinate without its unit: decimals, and in inches the fraction below."""
    number = decimal(built.scenario.unit, length).split()[0]
    if built.scenario.unit is MM:
        return number
    return f"{number}\n{fraction(built.scenario, length).removesuffix(' in')}"


def _tolerance(built: ShopCorner, length: float) -> str:
    """Plus or minus without its unit: decimals, and in inches below them the fraction that is still within it."""
    number = decimal(built.scenario.unit, length).split()[0]
    if built.scenario.unit is MM:
        return number
    return f"{number}\n{at_most(length).removesuffix(' in')}".rstrip()


def _lengths(built: ShopCorner) -> Table:
    head = ["", "mm", "in", "nearest fraction", "measured"]
    rows = [
        [
            words,
            f"{length:.1f}",
            f"{INCH.from_mm(length):.3f}",
            fraction(built.scenario, length).removesuffix(" in"),
            BLANK,
        ]
        for words, length in _every_length(built)
    ]
    return Table(head, rows)


def _every_length(built: ShopCorner) -> Iterator[tuple[str, float]]:
    scenario, stops = built.scenario, built.stops
    for arm in built.arms:
        yield f"{arm.name}, eye to eye: outer pivot square to the inner axis", arm.length
        for side, leg in zip(("front", "rear"), arm.legs, strict=False):
            yield f"{arm.name}, {side} leg, eye to eye", leg
    yield "tie rod, eye to eye", built.found["tie_rod_length"]
    yield "droop stop: wheel centre below ride", stops.droop
    yield "bump stop: wheel centre above ride", stops.bump
    if stops.strap is not None:
        yield "limit strap between its points, taut at the droop stop", stops.strap
    if scenario.corner.shock is not None:
        lengths = built.candidate.curves(np.array([-stops.droop, 0.0, stops.bump])).shock_length[0]
        for words, length in zip(("the droop stop", "ride", "the bump stop"), lengths, strict=True):
            if np.isfinite(length):
                yield f"shock, eye to eye at {words}", float(length)


def _stop_words(built: ShopCorner) -> str:
    stops, margin = built.stops, built.scenario.unit.brief(built.scenario.rod_end_margin, "angle")
    return (
        f"The droop stop is set by {stops.droop_limited_by}, the bump stop by {stops.bump_limited_by}, with at least "
        f"{margin} left in every joint. Arm lengths are between hole centres; cut tubes for the rod ends you use."
    )


def stand_height(built: ShopCorner) -> float:
    """Height of the frame datum above the floor, mm, at which the wheel hangs free at full droop: a round number."""
    step = 50.0 if built.scenario.unit is MM else 2.0 * INCH.mm
    lowest = float(np.nanmin(built.curves.wheel[2, 0])) - built.scenario.corner.tyre.radius
    return float(np.ceil((UNDER_WHEEL - lowest) / step)) * step


def _how_to_measure(built: ShopCorner) -> str:
    height = short(built.scenario, stand_height(built))
    return (
        f"Springs off, steering held straight ahead, frame level on stands with its datum {height} above a level floor "
        "(at another height add the difference). Jack the wheel until its centre is at each height above the floor. "
        "Camber: gauge on the rim, + top outboard. Toe: rim's front and rear edge from a line parallel to the centre "
        "plane, + toe-in. Contact centre: plumb from the middle of the tread's lowest point, y from the centre plane, "
        "x ahead of the front axle at ride."
    )


def _check_list(built: ShopCorner) -> Table:
    curves, stand = built.curves, stand_height(built)
    head = [
        "wheel at",
        "travel",
        "centre above floor",
        "above datum",
        "camber deg",
        "toe deg",
        "contact y",
        "contact x",
    ]
    head += ["camber measured", "toe measured", "y measured", "x measured"]
    rows = []
    for row, name in enumerate(HEIGHTS):
        wheel, contact = curves.wheel[:, 0, row], curves.contact[:, 0, row]
        lengths = (built.travels[row], wheel[2] + stand, wheel[2])
        travel, floor, datum = (_number(built, float(v)) for v in lengths)
        angles = [_angle(float(getattr(curves, part)[0, row])) for part in ("camber", "toe")]
        where = [_number(built, float(contact[axis])) for axis in (1, 0)]
        rows.append([name, travel, floor, datum, *angles, *where, *[BLANK] * 4])
    return Table(head, rows)


def _number(built: ShopCorner, length: float) -> str:
    return _coordinate(built, length) if np.isfinite(length) else "locks"


def _angle(value: float) -> str:
    return f"{np.degrees(value):+.2f}".replace("-0.00", "+0.00") if np.isfinite(value) else "locks"


def _allowed(built: ShopCorner) -> str:
    camber, toe, contact = spread(built)
    return (
        "An upper bracket and an inner tie-rod joint off by as much as they are held to (arm length kept, toe at ride "
        f"set again) change camber by up to {np.degrees(camber):.2f} deg, toe by up to {np.degrees(toe):.2f} deg and "
        f"contact y by up to {shop(built.scenario, contact)}. More than that is a mistake, or a gauge: find it "
        "before you weld."
    )


def spread(built: ShopCorner) -> tuple[float, float, float]:
    """Most that camber, toe (radians) and contact y (mm) change at the five heights within the brackets' tolerances.

    First order: the changes by each bracket in each direction, added up, at the height where the sum is greatest.
    """
    scenario, candidate = built.scenario, built.candidate
    total = np.zeros((3, len(HEIGHTS)))
    tolerance = built.tolerance_of("upper inner pivot", built.upper_pivot)
    for step in tolerance * np.eye(2):
        y, z = candidate.pivot_y + step[0], candidate.pivot_z + step[1]
        arm = np.array([built.found["arm_length"]])
        camber = static_camber_for(scenario.corner, np.array([y]), np.array([z]), arm, candidate.hole)
        moved = Candidates(np.array([y]), np.array([z]), camber, np.array([candidate.hole]))
        if np.isfinite(camber).all():
            total += _change(built, curves_at(scenario.corner, moved, built.travels))
    tolerance = built.tolerance_of("inner tie-rod joint", built.inner_joint)
    for step in tolerance * np.eye(2):
        joint = built.inner_joint[1:] + step
        total += _change(built, with_inner_joint(candidate, *joint.tolist()).curves(built.travels))
    camber_, toe, contact = np.nanmax(total, axis=1)
    return float(camber_), float(toe), float(contact)


def _change(built: ShopCorner, moved: Curves) -> Array:
    """Change of camber, toe and contact y at each height by a move, shape (3, heights)."""
    here = built.curves
    return np.abs(
        np.stack(
            (moved.camber[0] - here.camber[0], moved.toe[0] - here.toe[0], moved.contact[1, 0] - here.contact[1, 0])
        )
    )
