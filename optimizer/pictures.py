"""Pictures of one candidate, each as PNG and SVG: to look at, print and hand over."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from objectives.joints import joints_of
from objectives.steering import steering_positions
from objectives.turning import turning_of
from objectives.vectors import Array
from optimizer import frame_view as view
from optimizer.candidate import Candidate
from optimizer.frame_view import BLACK, BLUE, VERMILION, Look, show_in
from optimizer.roll_pictures import draw_roll_camber, draw_roll_centre
from optimizer.scenario import Scenario
from optimizer.sheet import (
    Named,
    draw_curve,
    legend_below,
    over_travel,
    paper,
    png_of,
    sheet,
    travels_of,
    write_pictures,
    write_png,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_CHOSEN = Look(BLUE, "-", "o")
_BASELINE = Look(VERMILION, "--", "s")


def draw_candidate(candidate: Candidate, folder: Path, baseline: Candidate | None = None) -> list[Path]:
    """Draw one candidate: curves through travel, contact path, steering and front view.

    Parameters
    ----------
    candidate, baseline
        The candidate, and one to compare it with.
    folder
        Made if it is not there.

    Returns
    -------
    The files written, PNG and SVG of each picture. A candidate that locks is drawn as far as it goes.
    """
    scenario, named = candidate.scenario, [(candidate, "this candidate", _CHOSEN)]
    if baseline is not None:
        named.append((baseline, "baseline", _BASELINE))
    draw = {
        "camber": _camber,
        "contact_path": _contact_path,
        "joint_angles": _joint_angles,
        "toe": _toe,
        "front_view": _front_view,
        "roll_centre": draw_roll_centre,
    }
    if scenario.corner.steering.lock:
        draw["steering"] = _steering
    if scenario.corner.shock is not None:
        draw["shock"] = _shock
    if scenario.corner.travel.roll:
        draw["roll_camber"] = draw_roll_camber
    return write_pictures(scenario, folder, draw, named)


def draw_front_view(candidate: Candidate, file: Path, made_by: str) -> None:
    """Draw the front view alone, as one PNG whose metadata say what made it."""
    with paper(candidate.scenario):
        figure = _front_view(candidate.scenario, [(candidate, "this candidate", _CHOSEN)])
        write_png(figure, file, Software=made_by)


def front_view_png(candidate: Candidate, dpi: int) -> bytes:
    """Draw the front view alone as a PNG to show."""
    return png_of(candidate.scenario, _front_view, [(candidate, "this candidate", _CHOSEN)], dpi=dpi)


def _draw_angles(axes: Axes, scenario: Scenario, candidates: Named, travel: Array, angle: str) -> None:
    for candidate, name, how in candidates:
        curves = view.read(candidate, travel)
        if curves is None:
            view.say_not_standing(axes, name, how)
        else:
            draw_curve(axes, travel, getattr(curves, angle)[0], **how.line(linewidth=2, label=name))


def _camber(scenario: Scenario, candidates: Named) -> Figure:
    figure, axes, travel = over_travel(scenario, "camber over travel", "camber, top outboard +")
    target = scenario.corner.camber_curve
    axes.plot(*target.T, color=view.ORANGE, linestyle="-.", marker="D", markersize=5, label="target")
    _draw_angles(axes, scenario, candidates, travel, "camber")
    legend_below(figure)
    return figure


def _toe(scenario: Scenario, candidates: Named) -> Figure:
    figure, axes, travel = over_travel(scenario, "toe over travel, straight ahead", "toe, toe-in +")
    _draw_angles(axes, scenario, candidates, travel, "toe")
    legend_below(figure)
    return figure


def _joint_angles(scenario: Scenario, candidates: Named) -> Figure:
    """Draw the candidate's joints, one panel for each, at every steering position; baselines would crowd them."""
    candidate, name, _ = candidates[0]
    travel, joints = travels_of(scenario.corner), joints_of(scenario.corner)
    figure = sheet(scenario, "joint angles over travel", 4.6 * min(2, len(joints)), 3.6 * -(-len(joints) // 2) + 1.2)
    positions = sorted(steering_positions(scenario.corner), key=lambda position: float(position.share))
    read = [(position, view.read(candidate, travel, position.shift)) for position in positions]
    for number, joint in enumerate(joints, start=1):
        axes = figure.add_subplot(-(-len(joints) // 2), min(2, len(joints)), number)
        for position, curves in read:
            how = _STEERED[float(position.share)]
            if curves is None:
                view.say_not_standing(axes, name, how)
            else:
                style = how.line(linewidth=1.8, marker=how.marker, markevery=15, markersize=5, label=position.name)
                draw_curve(axes, travel, getattr(curves, joint.column)[0], **style)
        axes.axhline(joint.max_angle, color=BLACK, linewidth=1.4, label="largest angle")
        axes.set_title(f"{joint.name}, at most {scenario.unit.say(joint.max_angle, 'angle')}")
        axes.margins(y=0.1)
        show_in(axes.xaxis, scenario.unit, "length", "wheel travel, bump +, droop -")
        show_in(axes.yaxis, scenario.unit, "angle", "angle")
    legend_below(figure)
    return figure


_STEERED = {
    -1.0: Look(BLUE, "--", "v"),
    -0.5: Look(view.SKY, (0, (8, 3)), "<"),
    0.0: Look(BLACK, "-", ""),
    0.5: Look(view.ORANGE, ":", ">"),
    1.0: Look(VERMILION, "-.", "^"),
}
"""By the share of the way to the left lock."""


def _contact_path(scenario: Scenario, candidates: Named) -> Figure:
    travel = travels_of(scenario.corner)
    figure = sheet(scenario, "path of the contact centre", 5.6, 6.8)
    axes = figure.add_subplot()
    axes.axvline(0.0, color=BLACK, linewidth=1.2, linestyle=":", label="plumb line through ride")
    for candidate, name, how in candidates:
        curves = view.read(candidate, travel)
        if curves is None:
            view.say_not_standing(axes, name, how)
            continue
        ride = int(np.flatnonzero(travel == 0.0)[0])
        sideways, height = (curves.contact[axis, 0] - curves.contact[axis, 0, ride] for axis in (1, 2))
        draw_curve(axes, sideways, height, **how.line(linewidth=2, label=name))
    axes.margins(0.12)
    show_in(axes.xaxis, scenario.unit, "length", "sideways from ride, outboard +, scale stretched")
    show_in(axes.yaxis, scenario.unit, "length", "height above ride position")
    legend_below(figure)
    return figure


def _front_view(scenario: Scenario, candidates: Named) -> Figure:
    words = "front view at full droop, ride, full bump; thin: kingpin, tie rod"
    figure = sheet(scenario, words, 10.0, 9.0)
    view.draw_travel(figure.add_subplot(), candidates[0][0])
    legend_below(figure)
    return figure


def _steering(scenario: Scenario, candidates: Named) -> Figure:
    """Draw what both wheels do when the steering is turned to the left, and how far that is from true rolling."""
    figure = sheet(scenario, "steering to the left, at ride height", 10.0, 4.8)
    angles, errors = figure.add_subplot(1, 2, 1), figure.add_subplot(1, 2, 2)
    shares = np.linspace(0.0, 1.0, 41)
    for candidate, name, how in candidates:
        turning = turning_of(scenario.corner, candidate.as_batch, shares, scenario.wheelbase)
        angles.plot(turning.input, turning.left, **how.line(linewidth=2.0, label=f"left wheel, inside, {name}"))
        right = how.line(linewidth=1.2, marker="|", markevery=5, label=f"right wheel, outside, {name}")
        angles.plot(turning.input, turning.right, **right)
        errors.plot(turning.left, turning.ackermann_error, **how.line(linewidth=2.0))
    pitman = scenario.corner.steering.pitman is not None
    moved = "pitman arm, turned to the left" if pitman else "rack, moved to steer left"
    show_in(angles.xaxis, scenario.unit, "angle" if pitman else "length", moved)
    show_in(angles.yaxis, scenario.unit, "angle", "steer angle, left +")
    show_in(errors.xaxis, scenario.unit, "angle", "steer angle of the inside wheel")
    show_in(errors.yaxis, scenario.unit, "angle", "Ackermann error, outside wheel turned too far +")
    errors.axhline(0.0, color=BLACK, linewidth=0.8)
    if scenario.wheelbase is None:
        errors.text(0.5, 0.6, "vehicle.wheelbase is not given", ha="center", transform=errors.transAxes)
    legend_below(figure)
    return figure


def _shock(scenario: Scenario, candidates: Named) -> Figure:
    """Draw shock length with its ends, and motion ratio."""
    shock, travel = scenario.corner.shock, travels_of(scenario.corner)
    assert shock is not None, "drawn only with a shock"
    figure = sheet(scenario, "shock over travel, straight ahead", 10.0, 4.8)
    length, ratio = figure.add_subplot(1, 2, 1), figure.add_subplot(1, 2, 2)
    for candidate, name, how in candidates:
        curves = view.read(candidate, travel)
        if curves is None:
            view.say_not_standing(length, name, how)
            continue
        draw_curve(length, travel, curves.shock_length[0], **how.line(linewidth=2, label=name))
        draw_curve(ratio, travel, curves.motion_ratio[0], **how.line(linewidth=2))
    length.axhline(shock.extended, color=BLACK, linestyle="--", label="full length")
    length.axhline(shock.collapsed, color=BLACK, linestyle=":", label="fully closed")
    for axes in (length, ratio):
        show_in(axes.xaxis, scenario.unit, "length", "wheel travel, bump +, droop -")
    show_in(length.yaxis, scenario.unit, "length", "shock, eye to eye")
    show_in(ratio.yaxis, scenario.unit, "ratio", "motion ratio, shock over wheel")
    legend_below(figure)
    return figure
