"""How far the heat of the sheet softens the skin of the buck, pull after pull.

Three layers: the sheet at its forming temperature, the closed skin, the infill (plastic and air side by side,
which conducts a little too well). The sheet lies on the buck until the part may be taken off, then the buck
stands in the air until the next pull. Sheet of full thickness and perfect contact: the buck is taken for
warmer than it gets, most of all where the sheet is drawn thin.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.heating.sheet_heating import contact_c
from buckwright.forming.heating.slab import Course, Face, Layer, run_slab
from buckwright.printing.materials import PrintMaterial

__all__ = ["MOST_PULLS", "Contact", "Pulls", "pull_again", "skin_layer"]

MOST_PULLS = 8
"""So many pulls are followed."""
_SKIN_NODES, _SKIN_GROWTH = 41, 1.05
_INFILL_NODES, _INFILL_GROWTH = 31, 1.15
_INFILL_M = 0.03
_AIR_W_MK = 0.026  # still air at room temperature
_RTOL = 1e-4
_SETTLED_MM = 0.005
"""Once a pull softens hardly more than the one before it, further ones do not either."""
_HALF = 0.5
"""The skin gives way once half of it is soft: judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """What meets: a hot sheet and the room.

    Attributes
    ----------
    sheet : layer of the sheet
    sheet_c : its mean temperature when it touches
    hold_s : how long it lies on the buck
    rest_s : how long the buck then stands free
    room : what outer faces meet
    """

    sheet: Layer
    sheet_c: float
    hold_s: float
    rest_s: float
    room: Face


@dataclass(frozen=True, slots=True)
class Pulls:
    """What pulls do to a skin.

    Attributes
    ----------
    contact_c : temperature to which the face jumps in the first pull
    heat_kj_m2 : that flows into the print in the first pull, while the sheet lies on it
    softened_mm : depth that softens in each pull followed
    soft_s : how long the face stays soft in the first
    face_c : temperature of the face just before each pull
    lasts : pulls before the skin gives way; `MOST_PULLS` for that many and more
    """

    contact_c: float
    heat_kj_m2: float
    softened_mm: tuple[float, ...]
    soft_s: float
    face_c: tuple[float, ...]
    lasts: int

    @property
    def endless(self) -> bool:
        """Whether the skin bore all the pulls that were followed."""
        return self.lasts >= MOST_PULLS


@lru_cache(maxsize=64)  # the same for all parts of one sheet on one machine
def pull_again(
    contact: Contact,
    material: PrintMaterial,
    *,
    shell_mm: float,
    infill_share: float,
    start_c: float,
    pulls: int = MOST_PULLS,
) -> Pulls:
    """Follow the skin through several pulls.

    Parameters
    ----------
    contact : sheet, times and room
    material : of the print
    shell_mm, infill_share : how it is printed
    start_c : temperature of the whole buck before the first pull
    pulls : how many are followed at most, 1..`MOST_PULLS`

    Returns
    -------
    Pulls : it stops at the pull in which the skin gives way
    """
    skin = skin_layer(material, shell_mm)
    inside = Layer(
        thickness_m=_INFILL_M,
        conductivity_w_mk=infill_share * material.conductivity_w_mk + (1.0 - infill_share) * _AIR_W_MK,
        heat_j_m3k=infill_share * skin.heat_j_m3k,
        nodes=_INFILL_NODES,
        growth=_INFILL_GROWTH,
    )
    softens, count = material.softens_c[0], contact.sheet.nodes
    buck = np.full(_SKIN_NODES + _INFILL_NODES - 1, start_c)
    depths: list[float] = []
    faces: list[float] = []
    soft_s = heat = 0.0
    for n in range(pulls):
        faces.append(float(buck[0]))
        start = np.concatenate([np.full(count - 1, contact.sheet_c), buck])
        start[count - 1] = contact_c(contact.sheet, contact.sheet_c, skin, float(buck[0]))
        held = run_slab(
            [contact.sheet, skin, inside], contact.room, Face(), start, contact.hold_s, rtol=_RTOL
        )
        depths.append(_softened_mm(held, count, softens))
        if n == 0:
            soft_s = _soft_s(held, count, softens)
            heat = 1e-3 * _taken_up_j_m2((skin, inside), held.temperature_c[-1, count - 1 :] - buck)
        if depths[-1] > _HALF * shell_mm:
            break
        if n > 1 and depths[-1] - depths[-2] < _SETTLED_MM:
            break
        free = run_slab(
            [skin, inside],
            contact.room,
            Face(),
            held.temperature_c[-1, count - 1 :],
            contact.rest_s,
            between=False,
            rtol=_RTOL,
        )
        buck = free.temperature_c[-1]
    first = contact_c(contact.sheet, contact.sheet_c, skin, start_c)
    lasts = len(depths) - 1 if depths[-1] > _HALF * shell_mm else pulls
    return Pulls(first, heat, tuple(depths), soft_s, tuple(faces), lasts)


def skin_layer(material: PrintMaterial, shell_mm: float) -> Layer:
    """The closed skin of a print, finer towards its face.

    Parameters
    ----------
    material, shell_mm : what it is made of, and its thickness

    Returns
    -------
    Layer
    """
    return Layer(
        thickness_m=1e-3 * shell_mm,
        conductivity_w_mk=material.conductivity_w_mk,
        heat_j_m3k=1e3 * material.density_kg_m3 * material.heat_kj_kgk,
        nodes=_SKIN_NODES,
        growth=_SKIN_GROWTH,
    )


def _taken_up_j_m2(layers: tuple[Layer, ...], rise_k: NDArray[np.float64]) -> float:
    """Heat that layers have taken up where their nodes have become so much warmer."""
    taken, begin = 0.0, 0
    for layer in layers:
        part = rise_k[begin : begin + layer.nodes]
        taken += layer.heat_j_m3k * float((0.5 * (part[1:] + part[:-1]) * layer.spacings()).sum())
        begin += layer.nodes - 1
    return taken


def _softened_mm(course: Course, face: int, softens_c: float) -> float:
    """Greatest depth under the face that ever gets soft, between nodes by a straight line."""
    depth = 1e3 * (course.depth_m[face - 1 :] - course.depth_m[face - 1])
    hottest: NDArray[np.float64] = course.temperature_c[:, face - 1 :].max(axis=0)
    soft = np.flatnonzero(hottest >= softens_c)
    if not len(soft):
        return 0.0
    last = int(soft[-1])
    if last == len(depth) - 1:
        return float(depth[-1])
    share = (hottest[last] - softens_c) / (hottest[last] - hottest[last + 1])
    return float(depth[last] + share * (depth[last + 1] - depth[last]))


def _soft_s(course: Course, face: int, softens_c: float) -> float:
    """How long the face is soft."""
    hot = course.temperature_c[:, face - 1] >= softens_c
    return float(course.time_s[hot].max()) if hot.any() else 0.0
