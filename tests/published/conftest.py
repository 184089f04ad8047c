"""A dental arch as sheets are formed over: heights and gap as printed, all else a generic guess.

A horseshoe in plan, narrow and high in front, broad and lower behind. Front is -y. No value on it may be
asserted to better than 30 %: what the papers leave out decides as much.
"""

from functools import cache

import numpy as np
import pytest
from scipy.spatial import cKDTree

from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.sheet_grid import disc
from buckwright.mesh.triangles import Mesh
from buckwright.relief.columns import Columns

WIDE, DEEP = 24.0, 42.0  # half width between the molars, and from them to the incisors
EDGE, CUSPS = 1.5, 9.0  # width of the top in front and behind
DRAFT = np.tan(np.radians(5.0))  # the face of the front stood at 85 to 95 degrees: V1.10
FRAME = 60.0  # radius


def arch(front_mm=25.0, gap_mm=25.0, lower_behind_mm=5.0, draft=DRAFT):
    """Height of the arch over points (N, 2), in a round frame; the gap is that in front of its foot."""
    along = np.linspace(0.0, np.pi, 721)
    middle = np.column_stack([WIDE * np.cos(along), -DEEP * np.sin(along)])
    behind = 1.0 - np.sin(along)  # 0 at the incisors, 1 at the molars
    tree = cKDTree(middle)
    top, half = front_mm - lower_behind_mm * behind, 0.5 * (EDGE + (CUSPS - EDGE) * behind)
    foot = DEEP + half[360] + front_mm * draft
    shift = np.array([0.0, foot - (FRAME - gap_mm)])

    def height(q):
        away, which = tree.query(np.asarray(q) - shift)
        return np.maximum(top[which] - np.maximum(away - half[which], 0.0) / draft, 0.0)

    return height, shift


def formed_over(front_mm=25.0, gap_mm=25.0, *, sheet_mm=4.0, lower_behind_mm=5.0, draft=DRAFT, **settings):
    """The forecast on the arch, and thickness over that of the sheet at the places that are measured."""
    height, shift = arch(front_mm, gap_mm, lower_behind_mm, draft)
    settings = {"quality": "preview", "nodes": 4000, "sharpest_radius_mm": 1.5, "finest_mm": 1.5} | settings
    run = forecast_sheet(height, frame_mm=disc(FRAME), sheet_mm=sheet_mm, **settings)
    at = np.radians(np.linspace(-12.0, 12.0, 9))  # along the arch, so that no single node decides

    def share(angle, part):
        """Mean over a line along the arch: on its top, or on its outer wall at a part of its height."""
        places = _on_arch(angle, part, front_mm, lower_behind_mm, draft, shift)
        return float(np.mean(run.thickness_at(places)[0]) / sheet_mm)

    front, side = at - 0.5 * np.pi, np.radians(np.linspace(-22.0, -6.0, 9))
    return run, {
        "edge": share(front, None),
        "front": share(front, 0.5),
        "gum": share(front, 0.15),
        "cusp": share(side, None),
        "side": share(side, 0.5),
    }


def sulcus_of_tilted(tilt_deg, *, front_mm=25.0, sheet_mm=4.0):
    """Thickness near the foot of the front wall of an arch that is tilted up in front, over the sheet's."""
    height, shift = arch(front_mm)
    line = np.arange(-FRAME, FRAME + 0.1, 0.75)
    plan = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    number = np.arange(len(plan)).reshape(len(line), -1)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    triangles = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    heights = height(plan)
    triangles = triangles[(heights[triangles] > 0.0).any(axis=1)]
    heel, turn = plan[triangles].max(axis=(0, 1))[1], np.radians(tilt_deg)

    def tilted(points):
        x, y, z = points[:, 0], points[:, 1] - heel, points[:, 2]
        up = z * np.cos(turn) - y * np.sin(turn)
        return np.column_stack([x, heel + y * np.cos(turn) + z * np.sin(turn), up])

    columns = Columns(Mesh(tilted(np.column_stack([plan, heights])), triangles.astype(np.int32)))
    run = forecast_sheet(
        lambda q: np.maximum(columns.top(np.asarray(q, float))[0], 0.0),
        frame_mm=disc(FRAME),
        sheet_mm=sheet_mm,
        quality="preview",
        nodes=4000,
        sharpest_radius_mm=1.5,
        finest_mm=1.5,
    )
    angle = np.radians(np.linspace(-12.0, 12.0, 9)) - 0.5 * np.pi
    places = tilted(_on_arch(angle, 0.15, front_mm, 5.0, DRAFT, shift))
    return float(np.mean(run.thickness_at(places)[0]) / sheet_mm)


def _on_arch(angle, part, front_mm, lower_behind_mm, draft, shift):
    """Points along the arch: on its top, or on its outer wall at a part of its height."""
    across = np.column_stack([DEEP * np.cos(angle), WIDE * np.sin(angle)])
    across /= np.linalg.norm(across, axis=1)[:, None]
    middle = np.column_stack([WIDE * np.cos(angle), DEEP * np.sin(angle)])
    behind = 1.0 - np.abs(np.sin(angle))
    half = 0.5 * (EDGE + (CUSPS - EDGE) * behind)
    top = front_mm - lower_behind_mm * behind
    off = 0.0 * half if part is None else half + (1.0 - part) * top * draft
    heights = top if part is None else part * top
    return np.column_stack([middle + off[:, None] * across + shift, heights])


@pytest.fixture(scope="session")
def over_arch():
    """`formed_over`, each case once."""
    return cache(lambda **settings: formed_over(**settings)[1])


@pytest.fixture(scope="session")
def tilted_sulcus():
    """`sulcus_of_tilted`."""
    return sulcus_of_tilted
