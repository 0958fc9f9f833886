"""The registry of this model's quantities, and how results are kept to a grid."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from deskmend.workstation.graph import Registry

__all__ = ["QUANTITIES", "Array", "Words", "angle", "quantity", "whole_mm"]

Array = npt.NDArray[np.float64]
Words = npt.NDArray[np.str_]

QUANTITIES = Registry()
"""Every quantity of the model."""

quantity = QUANTITIES.quantity


def whole_mm(length: Any) -> Array:
    """Length kept to the whole millimetre [mm]; a tape and a cushion know no finer."""
    return np.asarray(np.rint(length))


def angle(degrees: Any) -> Array:
    """Angle kept to a millionth of a degree [deg], so that no machine's last bit decides a tie."""
    return np.asarray(np.round(degrees, 6))
