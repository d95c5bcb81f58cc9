"""Tyre sizes as moulded on the sidewall: radius and width in mm."""

from __future__ import annotations

import re

_METRIC = re.compile(
    r"(?:P|LT|T|C)?\s*(?P<width>\d{3})\s*/\s*(?P<ratio>\d{2,3})\s*(?:Z?R|B|D|-)\s*(?P<rim>\d{2}(?:\.5)?)"
    r"(?P<rest>\s*(?:LT|C)?(?:\s+\d{2,3}(?:/\d{2,3})?\s*[A-Z]\d?)?)",
    re.ASCII | re.IGNORECASE,
)
_FLOTATION = re.compile(
    r"(?P<diameter>\d{2}(?:\.\d{1,2})?)\s*[x×]\s*(?P<width>\d{1,2}(?:\.\d{1,2})?)\s*(?:Z?R|B|D|-)\s*"
    r"(?P<rim>\d{1,2}(?:\.5)?)(?P<rest>\s*(?:LT|C)?)",
    re.ASCII | re.IGNORECASE,
)
_INCH = 25.4


def parse_tyre_size(written: str) -> tuple[float, float]:
    """Return (radius, width) in mm of a tyre size.

    The ISO metric code ("235/75R15") gives width in mm, section height in percent of it and rim in inches:
    diameter = rim + 2 width ratio / 100. The flotation code ("31x10.50R15") gives nominal diameter and
    width in inches; the tyre as built is within about 2 % of it.

    Raises
    ------
    ValueError
        With a sentence that says which codes are read.

    Examples
    --------
    >>> parse_tyre_size("31x10.50R15")  # 31 in across, 10.5 in wide
    (393.7, 266.7)
    >>> parse_tyre_size("235/75R15") == (15 * 25.4 / 2 + 0.75 * 235, 235)
    True
    """
    text = written.strip()
    if found := _METRIC.fullmatch(text):
        width = float(found["width"])
        radius = float(found["rim"]) * _INCH / 2 + width * float(found["ratio"]) / 100
        if not width or not float(found["ratio"]) or not float(found["rim"]):
            raise ValueError("has a zero in it; read the size off the sidewall again")
        return radius, width
    if found := _FLOTATION.fullmatch(text):
        diameter, width, rim = (float(found[part]) for part in ("diameter", "width", "rim"))
        if not width or not rim:
            raise ValueError("has a zero in it; read the size off the sidewall again")
        if diameter <= rim:
            raise ValueError("is a tyre no larger than its own rim; the first number is the outside diameter")
        return diameter * _INCH / 2, width * _INCH
    raise ValueError(
        'is not a tyre size; write it as on the sidewall, "235/75R15" or "31x10.50R15", '
        "or give radius and width instead"
    )
