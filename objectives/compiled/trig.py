"""Cosines and sines without calls or branches, so that those of several angles are worked out in one vector."""

from __future__ import annotations

import math

from objectives.compiled.kernel import kernel

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
