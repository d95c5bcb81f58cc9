"""Both front wheels as the steering is turned, the right-hand one by mirror, beside true rolling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from objectives.corner import Candidates, Corner
from objectives.curves import curves_at
from objectives.steering import steered_to
from objectives.vectors import Array


@dataclass(frozen=True)
class Turning:
    """One candidate at ride height, P steering positions, shape (P,) each; to the left is positive.

    Attributes
    ----------
    input
        Rack travel (mm) or turn of the pitman arm (radians).
    left, right
        Steer angles of the two wheels, radians.
    ackermann_error
        How much farther the outside wheel is turned than it would roll true, radians; NaN without a wheelbase.
    """

    input: Array
    left: Array
    right: Array
    ackermann_error: Array


def turning_of(corner: Corner, candidate: Candidates, share: Array, wheelbase: float | None) -> Turning:
    """Turn the steering of one candidate.

    Parameters
    ----------
    corner
        What is settled.
    candidate
        One that stands at ride.
    share
        Of the way to the left lock, negative to the right, shape (P,).
    wheelbase
        mm, or None.
    """
    share = np.asarray(share, dtype=float)
    # the right wheel is the mirror image of a left one that is steered the other way
    toe, mirrored = np.split(_toe(corner, candidate, np.concatenate((share, -share))), 2)
    left, right = -toe, mirrored
    at_ride = curves_at(corner, candidate, np.zeros(1))
    kingpins = 2.0 * float((at_ride.contact[1] - at_ride.kingpin_offset)[0, 0])
    error = np.full(share.shape, np.nan)
    if wheelbase is not None:
        side = np.where(share < 0.0, -1.0, 1.0)
        inside, outside = (np.where(share < 0.0, *pair) for pair in ((right, left), (left, right)))
        error = side * outside - true_rolling(side * inside, kingpins, wheelbase)
    return Turning(share * corner.steering.lock, left, right, error)


def true_rolling(inside: Array, kingpins: float, wheelbase: float) -> Array:
    """Angle of the outside wheel whose axle meets the inside wheel's on the rear axle's line, radians.

    cot outside = cot inside + kingpins / wheelbase, `kingpins` the distance between the steering axes at the ground
    (Ackermann's condition, common knowledge of the trade, no source).
    """
    slope = np.tan(inside)
    outside: Array = np.arctan(slope / (1.0 + slope * kingpins / wheelbase))
    return outside


def _toe(corner: Corner, candidate: Candidates, share: Array) -> Array:
    """Toe of the left wheel at ride height, NaN where it does not assemble, shape (P,)."""
    every = candidate.take(np.zeros(share.size, dtype=np.intp))
    return curves_at(corner, every, np.zeros(1), steered_to(corner, share).shift).toe[:, 0]
