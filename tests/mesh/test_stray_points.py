"""What floats beside a sculpt does not change the size that was asked for."""

import numpy as np
import pytest

from buckwright.clock import Clock
from buckwright.job.job import Job
from buckwright.mesh.reading import Sculpt
from buckwright.mesh.triangles import Mesh
from buckwright.pose.entering import enter_sculpt


@pytest.mark.parametrize("stray", ["points", "speck", "scrap"])
def test_height_is_that_of_the_sculpt(bodies, stray):
    body = bodies.ball(40.0, 4)
    far = np.array([[0, 0, 500.0], [0.1, 0, 500.0], [0, 0.1, 500.0], [0, 0, 500.1]])
    faces = {
        "points": np.zeros((0, 3), int),
        "speck": np.array([(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)]),
        "scrap": np.array([(0, 1, 2)]),
    }[stray]
    mesh = Mesh.from_arrays(
        np.concatenate([body.vertices, far]), np.concatenate([body.faces, faces + body.vertex_count])
    )
    entered = enter_sculpt(Sculpt(mesh, "obj"), Job(sculpt={"height_mm": 60.0}).tables["sculpt"], Clock())
    assert entered.entered.mesh.size[2] == pytest.approx(60.0)
    assert entered.entered.solid
    assert entered.size == pytest.approx(body.size)
