"""The pull among the settings, as a direction in world axes."""

from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from . import results, settings
from .settings import identifier

__all__ = ["is_found", "offered", "pull_in", "set_pull"]

_SAME = 1.0 - 1e-9
"""Cosine from which two directions are one; properties in single precision are some 1e-7 off in angle."""


def pull_in(scene: bpy.types.Scene) -> NDArray[np.float64]:
    """Pull in world axes: as it is set; where it is searched, as it is offered, else the world's Z."""
    pull = settings.of(scene).pull
    if pull.direction == "VECTOR":
        return np.array(pull.direction_vector, np.float64)
    if pull.direction == "SEARCH":
        found = offered(scene)
        return np.array((0.0, 0.0, 1.0)) if found is None else found
    sign = -1.0 if pull.direction.startswith("MINUS_") else 1.0
    return sign * np.eye(3)["XYZ".index(pull.direction[-1])]


def offered(scene: bpy.types.Scene) -> NDArray[np.float64] | None:
    """The pull of the setup that is taken, else that of the last result, which knows it exactly; or None."""
    for one in results.of(scene).setups:
        if one.number == int(settings.of(scene).pull.setup) and not one.measured:
            return np.array(one.direction, np.float64)
    return results.pull(scene)


def set_pull(scene: bpy.types.Scene, direction: np.ndarray[Any, Any]) -> None:
    """Make a direction in world axes the pull of the job."""
    pull = settings.of(scene).pull
    pull.direction = identifier("vector")
    pull.direction_vector = (direction / np.linalg.norm(direction)).tolist()
    pull.setup = 1  # along a direction that is given there is no other


def is_found(scene: bpy.types.Scene) -> bool:
    """Whether the pull that is set is the one that the last result belongs to."""
    found, own = results.pull(scene), pull_in(scene)
    length = float(np.linalg.norm(own))
    return found is not None and length > 0.0 and bool(found @ own > _SAME * length)
