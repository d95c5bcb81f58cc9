"""Overall diameters of metric tyre sizes, as tyre tables print them (seen; which makers' tables was not noted).

The size says it all: rim in inches and two section heights, 25.4 rim + 2 width ratio / 100. Tables round to 0.1 mm, so
the tolerance is half of that and a little for the binary fraction.
"""

from __future__ import annotations

import pytest

from optimizer.scenario import parse_scenario
from optimizer.tyre_size import parse_tyre_size
from tests.scenario_cases import edited

PRINTED = 0.051  # mm


@pytest.mark.parametrize(
    ("size", "diameter"),
    [
        ("235/75R15", 733.5),
        ("175/65-14", 583.1),
        ("185/55-14", 559.1),
        ("205/60-15", 627.0),
        ("205/65-15", 647.5),
        ("275/45-18", 704.7),
    ],
)
def test_published_diameter(size: str, diameter: float) -> None:
    radius, width = parse_tyre_size(size)
    assert 2 * radius == pytest.approx(diameter, abs=PRINTED)
    assert width == float(size[:3])


@pytest.mark.parametrize(("size", "inches"), [("31x10.50R15", (31.0, 10.5)), ("33x12.50R15", (33.0, 12.5))])
def test_flotation_size_is_diameter_and_width_in_inches(size: str, inches: tuple[float, float]) -> None:
    """First number of the flotation code: nominal diameter in inches (seen), second: width. Built to within 2 %."""
    radius, width = parse_tyre_size(size)
    assert (2 * radius / 25.4, width / 25.4) == pytest.approx(inches)


def test_the_size_reaches_the_corner() -> None:
    """235/75R15: section height 176.25 mm, diameter 733.5 mm (seen)."""
    tyre = parse_scenario(edited(("radius = 368.0\nwidth = 236.0", 'size = "235/75R15"'))).corner.tyre
    assert 2.0 * tyre.radius - 15 * 25.4 == pytest.approx(2 * 176.25, abs=1e-9)
    assert tyre.width == 235.0
