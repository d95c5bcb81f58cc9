"""The spindle's own axes, and its points told in them: what does not change however the wheel moves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from objectives.vectors import Array, beside, cross, dot, norm, over, unit, vector

SPIN = vector(0.0, 1.0, 0.0)  # spin axis in the measured spindle, pointing outboard


@dataclass(frozen=True)
class Frame:
    """Three unit vectors carried by the spindle: up the kingpin, to the steering pivot, and square to both."""

    kingpin: Array
    steer: Array
    square: Array

    @staticmethod
    def on(kingpin: Array, steer: Array) -> Frame:
        """Frame of two of its vectors, shape (3, ...) each."""
        return Frame(kingpin, steer, cross(kingpin, steer))

    def carry(self, parts: Array) -> Array:
        """Vector with these three components, shape (3,) or (3, N), in the frame's axes, shape (3, ...)."""
        carried: Array = parts[0] * self.kingpin
        carried += parts[1] * self.steer
        carried += parts[2] * self.square
        return carried

    def parts(self, v: Array) -> Array:
        """Components of a vector, shape (3,) or broadcasting with the frame's own."""
        return np.stack((dot(v, self.kingpin), dot(v, self.steer), dot(v, self.square)))

    def take(self, part: slice) -> Frame:
        """The candidates of a slice; nothing is copied."""
        return Frame(self.kingpin[..., part], self.steer[..., part], self.square[..., part])


@dataclass(frozen=True)
class Measured:
    """The spindle in measured attitude; vectors (3, N) and numbers (N,) where each has its own, else (3,), ().

    Attributes
    ----------
    frame
        Its own axes.
    along, off
        The steering pivot's place along the kingpin from the lower pivot, and its distance off it, mm.
    lower_pivot, spin
        The lower pivot from the wheel centre and the spin axis, as components in the frame.
    """

    frame: Frame
    along: Array
    off: Array
    lower_pivot: Array
    spin: Array

    def take(self, part: slice) -> Measured:
        """The candidates of a slice; nothing is copied."""
        if self.along.ndim == 0:
            return self
        numbers = (self.along[part], self.off[part], self.lower_pivot[:, part], self.spin[:, part])
        return Measured(self.frame.take(part), *numbers)

    @staticmethod
    def of(lower_pivot: Array, upper_pivot: Array, steering_pivot: Array) -> Measured:
        """Measured spindle with its pivots at (3,) or (3, N) from the wheel centre."""
        axes = upper_pivot.ndim - 1
        lower = beside(lower_pivot, axes)
        kingpin = unit(upper_pivot - lower)
        arm = beside(steering_pivot, axes) - lower
        along = np.asarray(dot(arm, kingpin))
        off = arm - along * kingpin
        frame = Frame.on(kingpin, unit(off))
        return Measured(frame, along, np.asarray(norm(off)), frame.parts(lower), frame.parts(over(SPIN, axes)))
