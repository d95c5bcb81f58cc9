"""Candidates whose sheets are printed in the tests: a plain one, and one with everything a scenario can give."""

from __future__ import annotations

import re
from functools import cache

from optimizer.candidate import Candidate
from optimizer.scenario import parse_scenario
from tests.scenario_cases import BASE, edited

TITLE = r"A $5 & <script>alert(1)</script> café \U0001F697 Ж漢 $x^2$ \"buggy\" %%d of no small length, and on it goes"
FULL = edited(
    ('title = "Test corner"', f'title = "{TITLE}"'),
    (
        "inner_pivot = [0.0, 225.0, 15.0]",
        "inner_pivot = [0.0, 225.0, 15.0]\nkick_up = 6.0\nplan_angle = -2.0\n"
        "tube_diameter = 32.0\nlegs_x = [150.0, -150.0]",
    ),
    (
        "length = [260.0, 520.0]",
        "length = [260.0, 520.0]\nkick_up = 9.0\nplan_angle = 3.0\ntube_diameter = 25.0\nlegs_x = [120.0, -120.0]\n"
        "keep_out = [{ y = 330.0, z = 300.0, diameter = 60.0 }]",
    ),
    ("max_angle = 28.0", 'bearing = { series = "K", bore = 12 }'),
    ("max_angle = 30.0", 'bearing = { series = "G", bore = 10 }'),
    (
        "\n[travel]",
        """
[joints.upper_outer]
axis = [0.0, 0.1, 1.0]
bearing = { series = "K", bore = 16 }

[shock]
lower_mount = [0.0, 520.0, 10.0]
upper_mount = [0.0, 400.0, 420.0]
extended = 560.0
collapsed = 250.0

[strap]
arm_point = [40.0, 540.0, 10.0]
frame_point = [40.0, 420.0, 330.0]

[[obstacles]]
name = "shock tower $1"
points = [[430.0, 370.0], [400.0, 420.0]]
diameter = 50.0

[travel]""",
    ),
    (
        "round_to = 1.0",
        'round_to = 1.0\nreference = { name = "lower front tube", x = 20.0, y = 205.0, z = 35.0 }',
    ),
)


CURVE, CURVE_IN_INCHES = "[[-220.0, -2.0], [0.0, 0.0], [180.0, -1.0]]", "[[-8.7, -2.0], [0.0, 0.0], [7.1, -1.0]]"
NOT_LENGTHS = ("title", "axis", "kick_up", "plan_angle", "static_camber", "max_angle", "bearing", "camber_curve")


def in_inches(text: str) -> str:
    """The same scenario in inches: every length divided by 25.4 where it stands, the tape one of sixteenths."""
    text = text.replace('units = "mm"', 'units = "inch"').replace(CURVE, CURVE_IN_INCHES)
    lines = [
        line if line.startswith(NOT_LENGTHS) or "_deg" in line else re.sub(r"-?\d+\.\d+", _divided, line)
        for line in text.split("\n")
    ]
    return re.sub(r"round_to = [\d.]+", 'round_to = "1/16"', "\n".join(lines))


def _divided(found: re.Match[str]) -> str:
    return repr(float(found[0]) / 25.4)


TEXTS = {"plain": BASE, "full": FULL, "inches": in_inches(BASE), "full in inches": in_inches(FULL)}


@cache
def candidate(name: str) -> Candidate:
    """One of the candidates by name."""
    return Candidate(parse_scenario(TEXTS[name]), 275.0, 232.0, 0.0)
