"""Small sculpts and jobs for many jobs at once."""

import pytest
import trimesh

from buckwright.job import Job


@pytest.fixture
def sculpt(tmp_path):
    """A box of 40 x 30 x 20 mm on its foot, in a file."""
    box = trimesh.creation.box((40.0, 30.0, 20.0))
    box.apply_translation((0.0, 0.0, 10.0))
    path = tmp_path / "box.stl"
    box.export(path)
    return path


@pytest.fixture
def job(sculpt):
    """A job that takes no time to speak of."""
    return Job(
        sculpt={"file": str(sculpt)},
        pull={"direction": "z"},
        base={"sink_mm": 0.0},
        fill={"mode": "none"},
        forecast={"quality": "off"},
    )
