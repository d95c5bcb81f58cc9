"""What follows from a scenario's settled points: shown by the check, with a picture of the nominal corner."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from objectives.curves import Curves
from objectives.joints import joints_of
from objectives.turning import turning_of
from objectives.vectors import norm
from optimizer.candidate import Candidate, baseline_of, with_inner_joint
from optimizer.drafts import draft_beside, sync
from optimizer.errors import ResultsError
from optimizer.part_advice import shock_cover
from optimizer.scenario import Scenario

MADE_BY = b"pivotfront check"  # written into the picture, so that a later check may replace it


def nominal_candidate(scenario: Scenario) -> Candidate:
    """The baseline, or else the middle of the pivot ranges at the nominal static camber."""
    baseline = baseline_of(scenario)
    if baseline is not None:
        return baseline
    y, z = (float(np.mean(span)) for span in (scenario.space.pivot_y, scenario.space.pivot_z))
    return Candidate(scenario, y, z, scenario.corner.static_camber)


def derived_geometry(scenario: Scenario) -> list[tuple[str, str]]:
    """Names and values, in the scenario's unit, of the geometry at ride at the nominal static camber."""
    unit, step = scenario.unit, scenario.build.round_to
    corner = scenario.corner
    middle = nominal_candidate(scenario)
    nominal = Candidate(scenario, middle.pivot_y, middle.pivot_z, corner.static_camber, middle.hole)
    found = nominal.designed_measures()
    if corner.steering.inner_region is not None and np.isfinite(found["inner_joint_y"]):
        nominal = with_inner_joint(nominal, found["inner_joint_y"], found["inner_joint_z"])  # placed once, not thrice
    curves = nominal.curves(np.array([0.0]))

    def angle(values: np.ndarray) -> str:
        return f"{np.degrees(values[0, 0]):.2f} deg"

    tyre = corner.tyre
    return [
        ("track", unit.tape(2.0 * corner.half_track, step)),
        ("lower arm length", unit.tape(scenario.lower_arm_length, step)),
        (
            "kingpin length",
            unit.tape(float(norm(curves.upper_outer - curves.lower_outer)[0, 0]), step),
        ),
        (
            "tyre radius, loaded radius, width",
            ", ".join(unit.tape(v, step) for v in (tyre.radius, tyre.loaded_radius, tyre.width)),
        ),
        ("caster", angle(curves.caster)),
        ("kingpin inclination", angle(curves.kingpin)),
        ("kingpin offset at the ground", unit.tape(float(curves.kingpin_offset[0, 0]), step)),
        *(
            (
                f"{joint.name}, angle at ride and largest",
                f"{angle(getattr(curves, joint.column))}, {unit.brief(joint.max_angle, 'angle')}",
            )
            for joint in joints_of(corner)
        ),
        *_steered(nominal, curves, found),
        ("tie-rod length", unit.tape(found["tie_rod_length"], step)),
        (
            f"upper arm length at {unit.tape(nominal.pivot_y, step)}, {unit.tape(nominal.pivot_z, step)}",
            unit.tape(found["arm_length"], step),
        ),
    ]


def _steered(nominal: Candidate, curves: Curves, found: dict[str, Any]) -> list[tuple[str, str]]:
    """What the wheels do at full lock, and the shock at ride (`curves` at no travel), where the scenario has them."""
    scenario = nominal.scenario
    unit, step, corner = scenario.unit, scenario.build.round_to, scenario.corner
    shown = []
    if corner.steering.lock:
        turning = turning_of(corner, nominal.as_batch, np.ones(1), scenario.wheelbase)
        both = ", ".join(
            unit.brief(float(part[0]), "angle") if np.isfinite(part[0]) else "the tie rod does not reach"
            for part in (turning.left, turning.right)
        )
        shown.append(("inside and outside wheel at full lock", both))
    if corner.shock is not None:
        stroke = f"{unit.tape(corner.shock.collapsed, step)} to {unit.tape(corner.shock.extended, step)}"
        shown.append(("shock at ride, stroke", f"{unit.tape(float(curves.shock_length[0, 0]), step)}, {stroke}"))
        shown += [("shock over the required travel", words) for words in shock_cover(corner.shock, found, unit, step)]
        shown.append(("motion ratio at ride", f"{curves.motion_ratio[0, 0]:.3f}"))
    return shown


def draw_nominal(scenario: Scenario, picture: Path) -> None:
    """Draw the front view of the nominal corner to a PNG file; only an earlier such picture is replaced.

    Raises
    ------
    ResultsError
        Another file is in the place, or it cannot be written.
    """
    from optimizer.pictures import draw_front_view

    if picture.suffix.lower() != ".png":
        raise ResultsError(f"{picture}: the picture is a PNG file; give it a name that ends in .png")
    try:
        if picture.exists() and not (picture.is_file() and _made_by_check(picture.read_bytes())):
            raise ResultsError(f"{picture} exists already and is no picture of a check; name another with --picture")
        with draft_beside(picture) as draft:
            draw_front_view(nominal_candidate(scenario), draft, made_by=MADE_BY.decode())
            sync(draft)
            draft.replace(picture)
    except OSError as error:
        raise ResultsError(f"{picture} cannot be written: {error.strerror}; name another with --picture") from None


def _made_by_check(content: bytes) -> bool:
    return content.startswith(b"\x89PNG\r\n\x1a\n") and b"tEXtSoftware\x00" + MADE_BY in content
