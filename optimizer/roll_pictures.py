"""Pictures of what the body's roll does: roll-centre height, and camber to the ground."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from objectives.roll import roll_curves
from optimizer import frame_view as view
from optimizer.frame_view import BLACK, GREY, show_in
from optimizer.scenario import Scenario
from optimizer.sheet import POINTS, Named, draw_curve, legend_below, over_travel, sheet


def draw_roll_centre(scenario: Scenario, candidates: Named) -> Figure:
    """Draw the height of the roll centre against travel."""
    corner, words = scenario.corner, "height of the roll centre over travel, both wheels alike"
    label, far = "roll centre above the ground line at ride", 2.0 * corner.half_track
    figure, axes, travel = over_travel(scenario, words, label, "length")
    for candidate, name, how in candidates:
        curves = view.read(candidate, travel)
        if curves is None:
            view.say_not_standing(axes, name, how)
            continue
        height = curves.roll_centre_z[0] - corner.ground_z
        # where the contact centre stops rising it runs off to one side and comes back from the other: no line across
        height[np.flatnonzero(np.abs(np.diff(height)) > far)] = np.nan
        draw_curve(axes, travel, height, **how.line(linewidth=2, label=name))
    low, high = axes.get_ylim()
    axes.set_ylim(max(low, -far), min(high, far))
    legend_below(figure)
    return figure


def draw_roll_camber(scenario: Scenario, candidates: Named) -> Figure:
    """Draw the camber of both wheels to the ground against body roll."""
    corner, unit = scenario.corner, scenario.unit
    figure = sheet(scenario, "camber of both wheels to the ground as the body rolls", 7.5, 5.2)
    axes = figure.add_subplot()
    axes.axhline(0.0, color=BLACK, linewidth=0.8)
    roll = np.linspace(0.0, corner.travel.roll, POINTS)
    for side in (1.0, -1.0):
        leaning = corner.static_camber + side * roll
        axes.plot(roll, leaning, color=GREY, linewidth=1.0, label="leaning with the body")
    for (candidate, name, how), inner_dashes in zip(candidates, (":", "-."), strict=False):
        if view.read(candidate, np.zeros(1)) is None:
            view.say_not_standing(axes, name, how)
            continue
        found = roll_curves(corner, candidate.as_batch, roll)
        for wheel, dashes in (("outer", how.dashes), ("inner", inner_dashes)):
            style = how.line(linewidth=2, linestyle=dashes, label=f"{name}, {wheel} wheel")
            draw_curve(axes, roll, getattr(found, wheel)[0], "travel ends here", **style)
    show_in(axes.xaxis, unit, "angle", "body roll")
    show_in(axes.yaxis, unit, "angle", "camber to the ground, top outboard +")
    legend_below(figure)
    return figure
