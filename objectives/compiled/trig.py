"""Cosines, sines and arctangents without calls or branches, so that several are worked out in one vector."""

from __future__ import annotations

import math

from objectives.compiled.kernel import kernel
from objectives.compiled.layout import SPIN, WIDTH, Record, Row

HALF_TURN, HALF_TURN_REST = math.pi, 1.2246467991473532e-16  # half a turn in radians, and what its double leaves of it
WHOLE = 1.5 * 2.0**52  # added and taken away again, it rounds to a whole number

# Taylor's series: up to a quarter turn what is left out is less than 1e-17. Unrolled, for a loop would be one more.
S3, S5, S7, S9, S11, S13, S15, S17, S19, S21 = ((-1.0) ** (n // 2) / math.factorial(n) for n in range(3, 22, 2))
C2, C4, C6, C8, C10, C12, C14, C16, C18, C20, C22 = ((-1.0) ** (n // 2) / math.factorial(n) for n in range(2, 23, 2))


@kernel
def cos_sin(angle: float) -> tuple[float, float]:
    """Cosine and sine of an angle of at most some turns, radians; each within 3e-16."""
    halves = angle * (1.0 / HALF_TURN) + WHOLE - WHOLE
    x = angle - halves * HALF_TURN - halves * HALF_TURN_REST
    is_odd = halves - 2.0 * (0.5 * halves + WHOLE - WHOLE)  # or minus one
    sign = 1.0 - 2.0 * is_odd * is_odd
    q = x * x
    sin = S11 + q * (S13 + q * (S15 + q * (S17 + q * (S19 + q * S21))))
    sin = x + x * q * (S3 + q * (S5 + q * (S7 + q * (S9 + q * sin))))
    cos = C12 + q * (C14 + q * (C16 + q * (C18 + q * (C20 + q * C22))))
    cos = 1.0 + q * (C2 + q * (C4 + q * (C6 + q * (C8 + q * (C10 + q * cos)))))
    return sign * cos, sign * sin


# Of an arctangent's series; less than 0.2 is left of its argument, and 1e-17 of the series
ATAN = tuple((-1.0) ** (n // 2) / n for n in range(3, 24, 2))
A3, A5, A7, A9, A11, A13, A15, A17, A19, A21, A23 = ATAN


@kernel
def arctangent(t: float) -> float:
    """Arctangent of a number, radians, within 8e-16 of itself."""
    half = t / (1.0 + math.sqrt(1.0 + t * t))  # tangent of half the angle: at most 1
    x = half / (1.0 + math.sqrt(1.0 + half * half))
    x = x / (1.0 + math.sqrt(1.0 + x * x))
    q = x * x
    high = A13 + q * (A15 + q * (A17 + q * (A19 + q * (A21 + q * A23))))
    return 8.0 * (x + x * q * (A3 + q * (A5 + q * (A7 + q * (A9 + q * (A11 + q * high))))))


@kernel
def toe_curve(s: Record, toe: Row) -> None:
    """Steer angle of the spin axis at the places of a sweep, radians: `math.atan2` of its x and y."""
    for k in range(WIDTH):
        ahead, aside = s.rows[SPIN, k], s.rows[SPIN + 1, k]
        turned = 0.0 if aside > 0.0 else HALF_TURN if ahead > 0.0 else -HALF_TURN
        toe[k] = arctangent(ahead / aside) + turned
