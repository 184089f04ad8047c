"""What a run gives for each sample, as hashes and figures, and the files that keep them.

    python tests/main/golden/record.py [NAME ...]

writes NAME.json beside this file. Record anew only when results are meant to change, and say why there.
"""

import argparse
import hashlib
import importlib
import json
import platform
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
SCENES = HERE.parents[2] / "sample_scenes"

#: How much coarser than the sample each sculpt is: a run should take half a minute of one processor.
COARSE = {
    "antler_bust": 8.0,
    "canopy": 5.0,
    "heron_mask": 4.0,
    "lantern_hood": 3.0,
    "river_terrain": 6.0,
    "scallop_shade": 5.0,
    "shoulder_shell": 4.0,
}
HASHED = ("buck.stl", "look.ply")
LIBRARIES = ("numpy", "scipy", "numba", "manifold3d")
#: Of long lists only so many entries are kept one by one; their number always.
LISTED = 8


def job_file(name, folder):
    """Make a coarse sample with its job file in a folder; path of the job file."""
    sys.path.insert(0, str(SCENES))
    try:
        importlib.import_module("make_samples").make(name, coarse=COARSE[name], into=folder)
    finally:
        sys.path.remove(str(SCENES))
    target = folder / name / "job.toml"
    target.write_bytes((SCENES / name / "job.toml").read_bytes())
    return target


def run_of(name, folder):
    """Run a coarse sample; its digest."""
    from buckwright.job import read_job
    from buckwright.pipeline.run import run

    path = job_file(name, folder)
    out, results = folder / name / "out", folder / name / "results"
    report = run("make", read_job(path), out, pictures=False, results=results).report
    return digest(report, out, results / "arrays.npz")


def digest(report, out, arrays):
    """Hashes of files and arrays, figures of the report, and the platform they come from."""
    with np.load(arrays, allow_pickle=False) as held:
        hashes = {name: array_hash(held[name]) for name in sorted(held.files)}
    hashes |= {name: hashlib.sha256((out / name).read_bytes()).hexdigest() for name in HASHED}
    return {"platform": fingerprint(), "figures": figures(report), "hashes": hashes}


def array_hash(array):
    """Hash of values, shape and kind."""
    known = hashlib.sha256(f"{array.dtype.str} {array.shape} ".encode())
    known.update(np.ascontiguousarray(array).tobytes())
    return known.hexdigest()


def figures(report):
    """The numbers of a report that tell of geometry and sheet, flat, by their paths."""
    forecast, underside = report["forecast"], report["underside"]
    told = {
        "input": {key: report["input"][key] for key in ("faces", "vertices", "size_mm")},
        "matrix": report["frame"]["matrix"],
        "pull": {key: report["pull"][key] for key in ("direction", "sink_mm")},
        "draft": {
            key: report["draft"][key] for key in ("wanted_deg", "free_share", "tight_share", "trapped_share")
        },
        "undercuts": [
            {key: entry[key] for key in ("area_mm2", "depth_mm", "sideways_mm", "centre_mm")}
            | {"strain": entry["release"]["strain"]}
            for entry in report["undercuts"]
        ],
        "fill": {"added_volume_mm3": report["fill"]["added_volume_mm3"]},
        "base": {
            key: report["base"][key]
            for key in ("foot_z_mm", "trim_z_mm", "riser_mm", "flange_mm", "land_mm", "fillet_mm")
        },
        "pockets": [
            {key: entry[key] for key in ("depth_mm", "volume_mm3", "area_mm2")} for entry in report["pockets"]
        ],
        "vents": [
            {key: entry[key] for key in ("top_mm", "diameter_mm", "back_bore_mm", "pocket")}
            for entry in report["vents"]
        ],
        "evacuation_s": report["evacuation_s"],
        "channels": {key: underside["channels"][key] for key in ("joined_vents", "exits", "length_mm")},
        "fixings": [
            {key: hole[key] for key in ("centre_mm", "depth_mm")} for hole in underside["fixings"]["holes"]
        ],
        "forecast": {
            key: forecast[key]
            for key in ("thickness_percentiles_mm", "mean_mm", "areal_draw_ratio", "volume_error")
        },
        "weakest_mm": forecast["weakest"]["mm"],
        "thin_mm": forecast["thin"]["mm"],
        "trapped_air": [
            {key: entry[key] for key in ("volume_mm3", "last_touched_mm")}
            for entry in forecast["trapped_air"]
        ],
        "webs": [{"length_mm": web["length_mm"]} for web in forecast["webs"]],
        "drainage_s": report["drainage"]["evacuation_s"],
        "buck": {key: report["buck"][key] for key in ("faces", "size_mm", "volume_mm3", "crossing_pairs")},
        "sideways_left_mm": report["release"]["sideways_left_mm"],
    }
    return dict(_leaves("", told))


def _leaves(path, value):
    """Numbers (and gaps, None) of a tree by their paths; of a long list the first ones and how many."""
    if isinstance(value, dict):
        for key, entry in value.items():
            yield from _leaves(f"{path}.{key}" if path else key, entry)
    elif isinstance(value, list):
        yield f"{path}.count", len(value)
        for n, entry in enumerate(value[:LISTED]):
            yield from _leaves(f"{path}.{n}", entry)
    else:
        yield path, value


def fingerprint():
    """Processor and libraries: only with the same ones every bit has to be the same."""
    return {"processor": processor()} | {name: version(name) for name in LIBRARIES}


def processor():
    """Model of the processor as the system names it; the names alone are shared by several kinds."""
    try:
        first = Path("/proc/cpuinfo").read_text(encoding="utf-8").split("\n\n")[0]
    except OSError:
        return f"{platform.machine()} {platform.processor()}".strip()
    told = {line.partition(":")[0].strip(): line.partition(":")[2].strip() for line in first.splitlines()}
    known = [told[key] for key in ("model name", "cpu family", "model", "stepping") if key in told]
    return " / ".join(known) or platform.machine()


def write(name, found):
    """Keep a digest beside this file."""
    (HERE / f"{name}.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


def recorded(name):
    """The digest that was kept."""
    return json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))


def main():
    """Record the samples that the command line names, or all."""
    parser = argparse.ArgumentParser(description="Record what runs of the samples give.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(COARSE))
    for name in parser.parse_args().names or COARSE:
        with tempfile.TemporaryDirectory() as folder:
            write(name, run_of(name, Path(folder)))
        sys.stdout.write(f"{name}\n")


if __name__ == "__main__":
    main()
