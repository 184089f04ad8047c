"""Fixed keys, plain values, no NaN."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from buckwright import __version__
from buckwright.output.report import assemble, plain, to_json, write_report


def sections() -> dict[str, Any]:
    return {
        "input": {
            "faces": np.int64(3),
            "vertices": 4,
            "size_mm": np.array([1.0, 2.0, np.nan]),
            "repairs": (),
        },
        "frame": {"matrix": np.diag([1 / 3, 1.0, 1.0, 1.0])},
        "pull": {"direction": (0.0, -0.0, 1.0), "sink_mm": 0.0},
        "draft": {
            "wanted_deg": 3.0,
            "free_share": 0.5,
            "tight_share": 0.25,
            "trapped_share": 0.25,
            "histogram": {},
        },
        "undercuts": [
            {
                "area_mm2": 1.23456789012,
                "depth_mm": math.inf,
                "sideways_mm": 0.1,
                "centre_mm": np.zeros(3, np.float32),
                "release": {"strain": 0.01, "allowable": None, "verdict": "comes off"},
            }
        ],
        "fill": {"mode": "full", "added_volume_mm3": 12345678.9},
        "pockets": [],
        "vents": [{"top_mm": [1, 2, 3], "diameter_mm": 0.8, "back_bore_mm": 3.0, "pocket": None}],
        "evacuation_s": np.float32(0.5),
        "base": None,
        "buck": {"faces": 1, "size_mm": [1, 2, 3], "volume_mm3": 4.0, "watertight": np.True_},
        "forecast": None,
        "findings": [{"severity": "note", "words": "Ünïcode", "advice": ""}],
        "timing_s": {"door": 0.1},
    }


def test_keys_in_order_and_version() -> None:
    report = assemble(sections())
    assert tuple(report) == (*sections(), "version")
    assert report["version"] == __version__


def test_values_are_plain_and_rounded() -> None:
    report = json.loads(to_json(assemble(sections())))
    assert report["input"] == {"faces": 3, "vertices": 4, "size_mm": [1.0, 2.0, None], "repairs": []}
    assert report["undercuts"][0]["depth_mm"] is None
    assert report["undercuts"][0]["area_mm2"] == 1.234568
    assert report["frame"]["matrix"][0][0] == 1 / 3  # not rounded
    assert report["fill"]["added_volume_mm3"] == 12345680.0
    assert report["buck"]["watertight"] is True
    assert math.copysign(1, report["pull"]["direction"][1]) == 1
    assert "NaN" not in to_json(assemble(sections()))


def test_what_json_cannot_hold_is_refused() -> None:
    with pytest.raises(TypeError, match="set"):
        plain({"a": {1, 2}})
    with pytest.raises(TypeError, match="object"):
        assemble(sections() | {"further": [{"key": object()}]})
    with pytest.raises(ValueError, match="JSON"):
        to_json({"a": math.nan})


def test_written_file_reads_back(tmp_path: Path) -> None:
    report = assemble(sections())
    write_report(tmp_path / "report.json", report)
    assert json.loads((tmp_path / "report.json").read_text(encoding="utf-8")) == report
