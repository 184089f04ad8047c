import numpy as np
import pytest

from buckwright.mesh.triangles import Mesh
from buckwright.shape.solid import as_solid


def _terrain(height, *, side=80.0, count=81):
    """Closed block over a square, standing on z = 0, its top z = height(x, y)."""
    line = np.linspace(-side / 2, side / 2, count)
    x, y = np.meshgrid(line, line)
    top = np.column_stack([x.ravel(), y.ravel(), np.broadcast_to(height(x, y), x.shape).ravel()])
    floor = top * [1, 1, 0]
    index = np.arange(count * count).reshape(count, count)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    up = np.concatenate([np.stack(t, -1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    rim = np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]])
    after, low = np.roll(rim, -1), count * count
    walls = [np.column_stack([rim + low, after + low, after]), np.column_stack([rim + low, after, rim])]
    return Mesh.from_arrays(np.concatenate([top, floor]), np.concatenate([up, up[:, ::-1] + low, *walls]))


@pytest.fixture
def terrain():
    """Maker of closed block meshes with a curved top."""
    return _terrain


@pytest.fixture
def hills():
    """A smooth hilly block 80 mm square, 14 to 34 mm high, as mesh and solid."""
    mesh = _terrain(lambda x, y: 24 + 6 * np.sin(x / 6) + 4 * np.cos(y / 5))
    return mesh, as_solid(mesh)
