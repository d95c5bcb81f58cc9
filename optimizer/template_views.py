"""What the 1:1 templates show: the corner across its arms' axes, each arm eye to eye, the spindle's own points."""

from __future__ import annotations

import numpy as np

from objectives.vectors import Array, cross, dot, norm, unit
from optimizer.arm_plane import ArmPlane
from optimizer.drawing import Look, Part, View, circle_at
from optimizer.part_view import tube_outline
from optimizer.shop_corner import HEIGHTS, RIDE, Arm, ShopCorner
from optimizer.shop_words import shop, short
from optimizer.units import INCH

SHOWN: tuple[tuple[int, Look], ...] = ((0, "dashed"), (RIDE, "heavy"), (len(HEIGHTS) - 1, "chained"))
"""Wheel heights at which arms are drawn, and how."""
PARTS: dict[str, Part] = {"upper arm": "upper_arm", "lower arm": "lower_arm"}
SHORT = 0.05  # mm: a length seen shorter by less than this is seen in its true length


def views_of(built: ShopCorner) -> list[View]:
    """Every view of the templates."""
    return [front_view(built), arms_view(built), spindle_view(built)]


def plane_of(built: ShopCorner) -> ArmPlane:
    """The plane of the front view."""
    return ArmPlane.of(built.scenario.corner.upper_axis, built.upper_pivot)


def front_view(built: ShopCorner) -> View:
    """The corner in the plane square to the upper arm's inner axis."""
    view, plane = View("Front view across the arm axes"), plane_of(built)
    _arms(view, built, plane)
    _contact_path(view, built, plane)
    _tie_rod(view, built, plane)
    _inner_brackets(view, built, plane)
    _surroundings(view, built, plane)
    view.notes += _front_notes(built, plane)
    return view


def _arms(view: View, built: ShopCorner, plane: ArmPlane) -> None:
    upper, lower = built.arms
    inner = plane.seen(upper.circle.centre), plane.seen(lower.circle.centre)
    for row, look in SHOWN:
        outer = [plane.seen(built.at(name, row)) for name in ("upper_outer", "lower_outer")]
        if not np.isfinite(outer).all():
            continue
        view.line("upper_arm", [inner[0], outer[0]], look)
        view.line("lower_arm", [inner[1], outer[1]], look)
        view.line("kingpin", outer, "thin" if row == RIDE else look)
        for arm, at in zip(built.arms, outer, strict=True):
            which = arm.name.split()[0]
            view.hole(PARTS[arm.name], at, built.scenario.bores.get(f"{which} outer joint"))
            view.label(at, f"{which} outer pivot, {HEIGHTS[row]}")
    for arm, at, name in zip(built.arms, inner, ("upper_outer", "lower_outer"), strict=True):
        path, outer_at = plane.seen(getattr(built.dense, name)[:, 0]), plane.seen(arm.outer_at_ride)
        view.line(PARTS[arm.name], path[np.isfinite(path).all(axis=1)], "thin")
        view.label(0.55 * at + 0.45 * outer_at, f"{arm.name} {short(built.scenario, arm.length)} eye to eye", bold=True)
        if arm.tube is not None:
            view.line("tubes", _closed(tube_outline(at, outer_at, arm.tube.radius)), "thin")


def _closed(outline: Array) -> Array:
    return np.vstack((outline, outline[:1]))


def _contact_path(view: View, built: ShopCorner, plane: ArmPlane) -> None:
    path = plane.seen(built.dense.contact[:, 0])
    view.line("contact_path", path[np.isfinite(path).all(axis=1)], "heavy")
    for row, name in enumerate(HEIGHTS):
        at = plane.seen(built.at("contact", row))
        if np.isfinite(at).all():
            view.hole("contact_path", at)
            view.label(at, f"contact centre, {name}")
    ride = plane.seen(built.at("contact"))
    view.line("contact_path", ride + np.array([[0.0, -60.0], [0.0, 60.0]]), "dotted")


def _tie_rod(view: View, built: ShopCorner, plane: ArmPlane) -> None:
    inner, outer = plane.seen(built.inner_joint), plane.seen(built.at("steering_outer"))
    view.line("tie_rod", [inner, outer], "thin")
    bores = built.scenario.bores
    view.hole("brackets", inner, bores.get("inner rod end"))
    view.hole("tie_rod", outer, bores.get("outer rod end"))
    view.label(outer, "outer tie-rod joint, ride")
    view.label(
        0.45 * inner + 0.55 * outer,
        f"tie rod, really {short(built.scenario, built.found['tie_rod_length'])} eye to eye",
    )


def _inner_brackets(view: View, built: ShopCorner, plane: ArmPlane) -> None:
    """Mark every point of the frame, with the square its hole has to lie in."""
    say = built.scenario
    for point in built.frame_points:
        if "bushing" in point.name or not _is_shown(point.name):
            continue
        at = plane.seen(point.at)
        view.hole("brackets", at, point.hole)
        if point.tolerance:
            view.line("brackets", at + point.tolerance * _SQUARE, "thin")
        x, y, z = (short(say, float(part)) for part in point.at)
        hole = "" if point.hole is None else f", hole {point.hole:g} mm"
        view.label(at, f"{point.name}{hole}\ny {y}, z {z}, at x {x}", bold=True)


_SQUARE = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0]])


def _is_shown(name: str) -> bool:
    """Whether a point of the frame belongs to the arms or the tie rod, and so onto the front view."""
    return name in ("upper inner pivot", "lower inner pivot", "inner tie-rod joint")


def _surroundings(view: View, built: ShopCorner, plane: ArmPlane) -> None:
    """Draw what is there already, as it passes through the plane of the sheet, and lines to measure from."""
    scenario, space = built.scenario, built.scenario.space
    low, high = view.bounds()
    _datum_line(view, built, plane, float(low[0]), float(high[0]))
    if space.region is not None:
        view.line("brackets", plane.cut(_closed(space.region)), "dotted", core=False)
    for y, z, diameter in space.keep_out:
        view.line("obstacles", plane.cut(circle_at(np.array([y, z]), diameter)), "dotted", core=False)
        view.label(plane.cut(np.array([[y, z]]))[0], "keep out")
    for obstacle in scenario.corner.parts.obstacles:
        ends = list(zip(obstacle.points[:-1], obstacle.points[1:], strict=True)) or [(obstacle.points[0],) * 2]
        for begin, end in ends:
            view.line("obstacles", plane.cut(_closed(tube_outline(begin, end, obstacle.radius))), "plain", core=False)
        view.label(plane.cut(obstacle.points[:1])[0], obstacle.name)
    reference = scenario.build.reference
    if reference is not None:
        at = plane.cut(np.array([[reference.y, reference.z]]))[0]
        view.line("frame", circle_at(at, 6.0), "plain", core=False)
        view.label(at, f"{reference.name} (second reference)")


def _datum_line(view: View, built: ShopCorner, plane: ArmPlane, left: float, right: float) -> None:
    """Draw the line of the frame datum, with marks at round distances from the centre plane."""
    step = 4.0 * INCH.mm if built.scenario.unit is INCH else 100.0
    ends = [[left, 0.0], [right, 0.0]]
    view.line("frame", ends, "plain", core=False)
    view.label(np.array([0.5 * (left + right), 0.0]), "line D: frame datum, z = 0")
    for count in range(int(np.ceil(left / step)), int(np.floor(right / step)) + 1):
        at = plane.cut(np.array([[count * step, 0.0]]))[0]
        view.line("frame", at + np.array([[0.0, -3.0], [0.0, 3.0]]), "plain", core=False)
        view.label(at + np.array([0.0, -3.0]), f"y {built.scenario.unit.say(count * step)}")


def _front_notes(built: ShopCorner, plane: ArmPlane) -> list[str]:
    scenario, (_, lower) = built.scenario, built.arms
    lean, turn = np.degrees(plane.lean), np.degrees(plane.turn)
    x = short(scenario, float(built.upper_pivot[0]))
    how = (
        "upright"
        if abs(lean) < 0.005
        else f"leaning {'back' if lean > 0 else 'forward'} {abs(lean):.2f} deg from upright"
    )
    if abs(turn) >= 0.005:
        how += (
            f" and turned {abs(turn):.2f} deg so that its outboard edge is further {'back' if turn > 0 else 'forward'}"
        )
    notes = [
        "The left front corner from the front, along the upper arm's inner axis; the right one is its mirror image. "
        f"Stand it square to that axis, {how}, with its upper inner pivot at x {x} and line D on the frame datum. The "
        "upper arm is then seen in its true length all through its swing.",
    ]
    short_by = _seen_short(lower, plane)
    if short_by > SHORT:
        notes.append(
            "The lower arm's axis points another way: the arm is seen up to "
            f"{short(scenario, short_by)} short; its real length is {shop(scenario, lower.length)}."
        )
    notes.append(
        "Heavy: ride. Dashed: full droop. Dash and dot: full bump. Squares around the brackets' holes: tolerance. "
        "Dotted upright line: plumb through the contact centre at ride."
    )
    missing = [HEIGHTS[row] for row, _ in SHOWN if not np.isfinite(built.at("upper_outer", row)).all()]
    if missing:
        notes.append(f"Not drawn, for it locks before it gets there: {', '.join(missing)}.")
    return notes


def _seen_short(arm: Arm, plane: ArmPlane) -> float:
    """How much shorter an arm is seen than it is, mm, at worst of its swing's two square directions."""
    seen = [
        np.hypot(*plane.seen(arm.circle.centre + arm.length * v) - plane.seen(arm.circle.centre))
        for v in (arm.circle.outward, arm.circle.upward)
    ]
    return float(arm.length - min(seen))


def arms_view(built: ShopCorner) -> View:
    """Both arms, each in its own plane, one above the other: along the arm to the right, front end of its axis up."""
    view, gap = View("Arm templates, eye to eye"), 50.0
    upper, lower = built.arms
    drop = gap + _reach(lower)[1] - _reach(upper)[0]
    _arm(view, built, upper, np.zeros(2))
    _arm(view, built, lower, np.array([0.0, -drop]))
    view.notes.append(
        "Where several sheets are taped together the written length rules: measure it on the finished strip, and move "
        "the taped joint until it agrees, before you cut or drill."
    )
    return view


def _along(arm: Arm) -> list[float]:
    """Places of the bushings along the inner axis, from the foot of the arm's square, front first; mm."""
    return [float(dot(at - arm.circle.centre, arm.circle.axis)) for at in arm.bushings]


def _reach(arm: Arm) -> tuple[float, float]:
    """How far down and up an arm's template goes, mm."""
    along = [*_along(arm), 0.0]
    return min(along), max(along)


def _arm(view: View, built: ShopCorner, arm: Arm, origin: Array) -> None:
    scenario, part = built.scenario, PARTS[arm.name]
    outer, along = origin + np.array([arm.length, 0.0]), [origin + np.array([0.0, place]) for place in _along(arm)]
    view.line(part, [origin, outer], "chained" if along else "heavy")
    view.line(part, along or origin + np.array([[0.0, -12.0], [0.0, 12.0]]), "dotted")
    view.hole(part, outer, scenario.bores.get(f"{arm.name.split()[0]} outer joint"))
    view.label(outer, f"{arm.name}, outer pivot", bold=True)
    view.label(0.5 * (origin + outer), f"{arm.name}: {shop(scenario, arm.length)} eye to eye", bold=True)
    foot = f"inner axis, at x {short(scenario, float(arm.circle.centre[0]))}"
    if along:
        view.label(origin, foot)
    else:
        view.hole(part, origin)
        view.label(origin, f"{arm.name}, {foot}", bold=True)
    for side, at, leg in zip(("front", "rear"), along, arm.legs, strict=False):
        view.line(part, [at, outer], "heavy")
        view.hole(part, at)
        view.label(at, f"{arm.name}, {side} bushing", bold=True)
        view.label(0.5 * (at + outer), f"{side} leg: {shop(scenario, leg)} eye to eye", bold=True)
    if arm.tube is not None:
        for begin in along or [origin]:
            view.line("tubes", _closed(tube_outline(begin, outer, arm.tube.radius)), "thin")


def spindle_view(built: ShopCorner) -> View:
    """Lay the spindle's three joints flat in the plane through them, with the wheel centre's foot on it."""
    scenario, spindle = built.scenario, built.scenario.corner.spindle
    points = {
        "lower outer pivot": spindle.lower_pivot,
        "upper outer pivot": spindle.upper_pivot_at(np.asarray(built.candidate.hole)),
        "outer tie-rod joint": spindle.steering_pivot,
    }
    lower, upper, joint = points.values()
    up = unit(upper - lower)
    normal = unit(cross(joint - lower, up))
    flat = np.stack((up, cross(normal, up)))  # the kingpin lies, for sheets of paper are longest that way or turned

    def at(point: Array) -> Array:
        return np.stack([dot(v, point - lower) for v in flat])

    view = View("Spindle check template")
    view.line("spindle", [at(p) for p in (lower, upper, joint, lower)], "plain")
    names = ("lower outer joint", "upper outer joint", "outer rod end")
    for (name, point), bore in zip(points.items(), names, strict=True):
        view.hole("spindle", at(point), scenario.bores.get(bore))
        view.label(at(point), name, bold=True)
    for first, second in ((lower, upper), (upper, joint), (joint, lower)):
        view.label(0.5 * (at(first) + at(second)), shop(scenario, float(norm(first - second))))
    centre = np.zeros(3)
    view.hole("spindle", at(centre))
    height = float(dot(normal, centre - lower))
    view.label(at(centre), f"wheel centre, {shop(scenario, abs(height))} square off this plane")
    far = ", ".join(f"{name} {shop(scenario, float(norm(point)))}" for name, point in points.items())
    out, back = ("outboard", "inboard") if normal[1] > 0.0 else ("inboard", "outboard")
    stands = f"{shop(scenario, abs(height))} {out if height > 0.0 else back} of it"
    view.notes += [
        f"The plane through the spindle's three joints, seen from its {out} side, true lengths between their centres. "
        f"The wheel centre (middle of the tyre) stands {stands}.",
        f"From the wheel centre, straight through space: {far}. If one differs from your spindle, measure it "
        "again before you weld.",
    ]
    return view
