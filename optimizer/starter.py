"""The commented scenario a builder starts from, in round numbers of either unit."""

from __future__ import annotations

from importlib.resources import files
from string import Template

from optimizer.units import INCH, UNITS

_MM = {
    "fraction_note": "",
    "track": "1580.0",
    "ride_height": "270.0",
    "tyre_radius": "367.0",
    "tyre_width": "235.0",
    "loaded_radius": "360.0",
    "shoulder_radius": "35.0",
    "lower_pivot": "[5.0, -90.0, -110.0]",
    "upper_pivot": "[-20.0, -110.0, 120.0]",
    "steering_pivot": "[-120.0, -105.0, -30.0]",
    "lower_inner": "[0.0, 225.0, 15.0]",
    "lower_length": "475.0",
    "pivot_y": "[190.0, 400.0]",
    "pivot_z": "[160.0, 320.0]",
    "upper_length": "[260.0, 520.0]",
    "region": "[[190.0, 160.0], [400.0, 160.0], [380.0, 320.0], [210.0, 320.0]]",
    "keep_y": "330.0",
    "keep_z": "300.0",
    "keep_diameter": "60.0",
    "inner_joint": "[-120.0, 240.0, 80.0]",
    "inner_region": "{ y = [210.0, 270.0], z = [60.0, 120.0] }",
    "rack_travel": "60.0",
    "pitman_pivot": "[-270.0, 240.0, 80.0]",
    "wheelbase": "2350.0",
    "shock_lower": "[0.0, 520.0, 30.0]",
    "shock_upper": "[0.0, 380.0, 480.0]",
    "shock_extended": "610.0",
    "shock_collapsed": "355.0",
    "strap_arm": "[60.0, 560.0, 20.0]",
    "strap_frame": "[60.0, 400.0, 300.0]",
    "bump": "180.0",
    "droop": "220.0",
    "droop_cap": "330.0",
    "outline": "[[440.0, 430.0], [530.0, 610.0], [690.0, 700.0], [930.0, 730.0]]",
    "camber_curve": "[[-220.0, -2.0], [0.0, 0.0], [180.0, -1.0]]",
    "scrub_aim": "45.0",
    "scrub_limit": "100.0",
    "clear_aim": "30.0",
    "roll_centre_aim": "100.0",
    "clear_limit": "10.0",
    "droop_least": "150.0",
    "tolerance": "1.5",
    "spindle_tolerance": "0.5",
    "arm_tolerance": "1.0",
    "shrinkage": "0.8",
    "arm_thread": "5.0",
    "rod_thread": "10.0",
    "round_to": "1.0",
    "reference": '{ name = "lower front tube", y = 225.0, z = 15.0 }',
    "lower_tube": "32.0",
    "lower_legs": "[150.0, -150.0]",
    "upper_tube": "25.0",
    "upper_legs": "[120.0, -120.0]",
    "tie_rod": "20.0",
    "rim_diameter": "381.0",
    "rim_width": "178.0",
    "rim_offset": "-20.0",
    "obstacle": "[[430.0, 370.0], [400.0, 520.0]]",
    "obstacle_diameter": "50.0",
    "parts_limit": "5.0",
    "first_y": "275.0",
    "first_z": "230.0",
}

_INCH = {
    "fraction_note": '\n# Lengths are inches: a number, or a fraction in quotes such as "14 3/8".',
    "track": "62.0",
    "ride_height": '"10 5/8"',
    "tyre_radius": "14.44",
    "tyre_width": "9.25",
    "loaded_radius": '"14 3/16"',
    "shoulder_radius": '"1 3/8"',
    "lower_pivot": '["1/4", -3.5, "-4 3/8"]',
    "upper_pivot": '["-3/4", "-4 3/8", 4.75]',
    "steering_pivot": '[-4.75, "-4 1/8", "-1 3/16"]',
    "lower_inner": '[0.0, "8 7/8", "5/8"]',
    "lower_length": "18.75",
    "pivot_y": '["7 1/2", "15 3/4"]',
    "pivot_z": '["6 1/4", "12 5/8"]',
    "upper_length": '["10 1/4", "20 1/2"]',
    "region": '[["7 1/2", "6 1/4"], ["15 3/4", "6 1/4"], [15.0, "12 5/8"], [8.25, "12 5/8"]]',
    "keep_y": "13.0",
    "keep_z": '"11 3/4"',
    "keep_diameter": '"2 3/8"',
    "inner_joint": '[-4.75, "9 7/16", "3 1/8"]',
    "inner_region": '{ y = ["8 1/4", "10 5/8"], z = ["2 3/8", "4 3/4"] }',
    "rack_travel": '"2 3/8"',
    "pitman_pivot": '["-10 5/8", "9 7/16", "3 1/8"]',
    "wheelbase": "92.5",
    "shock_lower": "[0.0, 20.5, 1.25]",
    "shock_upper": "[0.0, 15.0, 19.0]",
    "shock_extended": "24.0",
    "shock_collapsed": "14.0",
    "strap_arm": "[2.5, 22.0, 0.75]",
    "strap_frame": "[2.5, 15.75, 11.75]",
    "bump": "7.0",
    "droop": "8.5",
    "droop_cap": "12.75",
    "outline": '[["17 3/8", 17.0], ["20 7/8", 24.0], ["27 1/8", "27 1/2"], ["36 5/8", "28 3/4"]]',
    "camber_curve": "[[-8.5, -2.0], [0.0, 0.0], [7.0, -1.0]]",
    "scrub_aim": "1.75",
    "scrub_limit": "4.0",
    "clear_aim": "1.25",
    "roll_centre_aim": "4.0",
    "clear_limit": '"3/8"',
    "droop_least": "6.0",
    "tolerance": '"1/16"',
    "spindle_tolerance": '"1/32"',
    "arm_tolerance": '"1/16"',
    "shrinkage": '"1/32"',
    "arm_thread": '"3/16"',
    "rod_thread": '"3/8"',
    "round_to": '"1/16"',
    "reference": '{ name = "lower front tube", y = "8 7/8", z = "5/8" }',
    "lower_tube": '"1 1/4"',
    "lower_legs": "[6.0, -6.0]",
    "upper_tube": "1.0",
    "upper_legs": "[4.75, -4.75]",
    "tie_rod": '"3/4"',
    "rim_diameter": "15.0",
    "rim_width": "7.0",
    "rim_offset": "-0.75",
    "obstacle": '[[17.0, "14 1/2"], [15.75, 20.5]]',
    "obstacle_diameter": "2.0",
    "parts_limit": '"3/16"',
    "first_y": '"10 7/8"',
    "first_z": '"9 1/16"',
}


def starter_text(units: str) -> str:
    """Return a valid scenario with every key explained, in "mm" or "inch".

    Raises
    ------
    ValueError
        `units` is neither.
    """
    if units not in UNITS:
        raise ValueError(f'units must be "mm" or "inch", not {units!r}')
    template = (files("optimizer") / "templates" / "starter.toml").read_text(encoding="utf-8")
    values = _INCH if units == INCH.name else _MM
    return _aligned(Template(template).substitute(values, units=units))


def _aligned(text: str) -> str:
    """Set the comments behind values in one column, where the values leave room."""
    lines = []
    for line in text.splitlines():
        code, mark, comment = line.partition("  # ")
        lines.append(f"{code.rstrip():<36}  # {comment}" if mark else line)
    return "\n".join(lines) + "\n"
