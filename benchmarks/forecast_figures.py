"""Reprint the figures of docs/explanation/forecast.md: `python benchmarks/forecast_figures.py [SECTION ...]`.

Sections, with their seconds of processor: nets (400), rings (30), arch (60), slip (250), sliding (60) and
classical (10). Without names all of them are printed. `make figures` runs it.
"""

import argparse
import importlib.util
import sys
import time
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import attrs
import numpy as np

from buckwright.clock import Clock
from buckwright.forming.forecast.bands import band_of
from buckwright.forming.forecast.buck_forecast import frame_round, run_forecast
from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.formed import CLAMPED, LANDED
from buckwright.forming.forecast.heat import RIM_COLDER_C
from buckwright.forming.forecast.sheet_grid import disc, rectangle
from buckwright.forming.forecast.stage import levels_of
from buckwright.job import read_job
from buckwright.mesh.triangles import Mesh
from buckwright.pipeline.commands import COMMANDS, stages_for
from buckwright.pipeline.engine import Engine
from buckwright.pipeline.settled import settled
from buckwright.pipeline.store import Store
from buckwright.relief.raster import relief_of

HERE = Path(__file__).resolve().parents[1]
PLENUM_KPA = 10.0
_PIXELS = 1024
CONE_WALL = np.tan(np.radians(15.0))


def borrowed(path: str) -> ModuleType:
    """A module of the tests: what they assert and what is printed here come from the same code."""
    spec = importlib.util.spec_from_file_location(path.replace("/", "_"), HERE / "tests" / f"{path}.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


# --- the nets: buck of the heron mask and of the canopy, turned, shifted and refined


@cache
def blank_of(name: str) -> Any:
    """The buck of a sample, without vents, and its job."""
    sys.path.insert(0, str(HERE / "sample_scenes"))
    import make_samples

    make_samples.make(name)
    job = read_job(HERE / "sample_scenes" / name / "job.toml")
    clock = Clock()
    engine = Engine(stages_for(COMMANDS["make"]), settled(job), clock, Store(None, clock))
    return engine.get("blank"), job


def turned(mesh: Mesh, degrees: float, shift_mm: tuple[float, float]) -> Mesh:
    """A mesh turned about the pull, and shifted."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    spin = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return Mesh.from_arrays(mesh.vertices @ spin.T + [*shift_mm, 0.0], mesh.faces)


def on_blank(name: str, *, turn_deg: float = 0.0, shift_mm: Any = (0.0, 0.0), **settings: Any) -> Any:
    """One run on the buck of a sample; buck and frame are turned together against the net."""
    blank, job = blank_of(name)
    coarser, quality = settings.pop("coarser", False), settings.pop("quality", "preview")
    mesh = turned(blank.mesh, turn_deg, shift_mm)
    low, high = blank.mesh.vertices.min(0), blank.mesh.vertices.max(0)
    size = frame_round(tuple((high - low)[:2]), float(high[2]), job.forecast.gap_mm)
    frame = turned(
        Mesh.from_arrays(
            np.pad(rectangle(*size) + 0.5 * (low + high)[:2], ((0, 0), (0, 1))), [[0, 1, 2], [0, 2, 3]]
        ),
        turn_deg,
        (0.0, 0.0),
    )
    outline: Any = frame.vertices[:, :2]
    return run_forecast(
        relief_of(mesh, pixel_mm=float(mesh.size[:2].max()) / _PIXELS),
        levels_of(blank),
        attrs.evolve(job.forecast, **settings),
        lambda _share: None,
        sheet_mm=job.sheet.thickness_mm,
        plenum_kpa=PLENUM_KPA,
        quality=quality,
        frame_mm=outline,
        coarser=coarser,
    )


def row(words: str, run: Any, band: Any = None) -> str:
    """A row of the table of nets."""
    told = run.figures
    thin, weakest = ("", "") if band is None else (f" ±{band.thin_mm:.3f}", f" ±{band.weakest_mm:.3f}")
    cells = (f"{told.thin_mm:.3f}{thin}", f"{told.weakest_mm:.3f}{weakest}", f"{told.mean_mm:.3f}")
    spot = " ".join(f"{side:.0f}" for side in told.weakest_at_mm)
    return f"| {words} | {' | '.join(cells)} | {len(run.webs)}, {len(run.counted_air)} | {spot} |"


def nets() -> Iterator[str]:
    """Bands, turning, refining, and the other heat."""
    blank_of("heron_mask")  # so that no run's seconds hold its making
    yield "| | X | weakest spot | mean | webs, air | at |"
    for words, case in (
        ("preview", {}),
        ("turned by 17 degrees", {"turn_deg": 17.0}),
        ("turned by 45 degrees", {"turn_deg": 45.0}),
        ("shifted by half a cell", {"shift_mm": (1.0, 1.0)}),
        ("fine", {"quality": "fine"}),
    ):
        begin = time.process_time()
        run = on_blank("heron_mask", **case)
        seconds = time.process_time() - begin
        coarse = on_blank("heron_mask", coarser=True, **case)
        yield row(f"heron, {words}", run, band_of(run.figures, coarse.figures)) + f" {seconds:.1f} s"
        if words in ("preview", "fine"):
            even = on_blank("heron_mask", rim_colder_c=0.0, coarser=True, **case)
            yield row(f"heron, {words}, half the net", coarse)
            yield row(f"heron, {words}, half the net, evenly warm", even)
    for turn in (0.0, 17.0, 45.0):
        run = on_blank("canopy", turn_deg=turn)
        coarse = on_blank("canopy", turn_deg=turn, coarser=True)
        yield row(f"canopy, preview, turned by {turn:g}", run, band_of(run.figures, coarse.figures))
    yield row("heron, 20,000 first nodes, fine", on_blank("heron_mask", quality="fine", nodes=20_000))


# --- round sheets against the independent ring model, at the pressure that users run


def rings() -> Iterator[str]:
    """RMS, 95th percentile, thinnest place and order of contact."""
    steps, press = borrowed("forming/test_steps"), borrowed("forming/conftest").Press
    for case in (steps.cone, steps.hemisphere, steps.cylinder, steps.male_cone):
        model, height, outline, settings = case(press, rings=600, until=100.0)
        grid, _, result, t = steps.formed(
            height, outline, nodes=10_000, pressure=model.p, finest_mm=0.01, **settings | {"pixels": 8}
        )
        e, rank = steps.errors(model, grid, result, t)
        near = np.percentile(np.abs(e), 95)
        least = t[result.state == LANDED].min()
        yield (
            f"{case.__name__}: RMS {steps.rms(e):.1%}, p95 {near:.1%}, thinnest {least:.3f} "
            f"(rings {model.thickness()[1].min():.3f}), order of contact {rank:.4f}"
        )

    for nodes in (2500, 5000, 10_000):
        e, result = steps.stem(press, nodes)
        folded = int(result.turned.sum())
        yield f"ball on a stem, {nodes} even nodes: RMS {steps.rms(e):.1%}, {folded} triangles folded"


# --- the arch: what was measured on dental sheets


def arch() -> Iterator[str]:
    """Thickness over the flat sheet's, sticking, evenly warm and with a cold rim."""
    over = borrowed("published/conftest").formed_over
    for rim in (0.0, RIM_COLDER_C):
        for height in (25.0, 30.0, 35.0):
            yield _places(f"rim {rim:g} °C colder, {height:g} mm", over(front_mm=height, rim_colder_c=rim))
    for gap in (40.0, 10.0):
        yield _places(f"gap {gap:g} mm", over(gap_mm=gap, rim_colder_c=RIM_COLDER_C))
    measured = (("front", 0.50), ("front", 0.46), ("front", 0.547), ("front", 0.58), ("side", 0.60))
    for rim in (0.0, RIM_COLDER_C):
        found = over(rim_colder_c=rim)[1]
        off = np.array([found[wall] / share - 1.0 for wall, share in measured])
        yield f"five walls, rim {rim:g} °C colder: bias {off.mean():+.0%}, RMS {np.sqrt(np.mean(off**2)):.0%}"


def _places(words: str, found: Any) -> str:
    _, places = found
    return f"{words}: " + ", ".join(f"{name} {share:.2f}" for name, share in places.items())


def slip() -> Iterator[str]:
    """Slip that ends: edges and walls of the arch, broad tops, heights, and what it costs."""
    over = borrowed("published/conftest").formed_over
    cases: list[dict[str, Any]] = [{}, {"friction": 0.3}]
    cases += [{"friction": mu, "sticks_after": share} for mu, share in ((0.3, 0.5), (0.1, 0.5), (0.3, 2.0))]
    for case in cases:
        begin = time.process_time()
        found = over(rim_colder_c=RIM_COLDER_C, **case)
        seconds = time.process_time() - begin
        high = over(front_mm=35.0, rim_colder_c=RIM_COLDER_C, **case)[1]
        lost = 1.0 - high["front"] / found[1]["front"]
        words = ", ".join(f"{key} {value:g}" for key, value in case.items()) or "sticks"
        yield (
            _places(words, found) + f"; front wall at 35 mm -{lost:.0%}; disc over plate {_tops(case):.3f}; "
            f"{seconds:.1f} s"
        )


def _tops(case: dict[str, Any]) -> float:
    """Top of a broad low disc over a sheet laid on a plate."""
    settings = {"sheet_mm": 0.75, "sag_mm": 15.0, "nodes": 2000, "finest_mm": 2.0, "quality": "preview"}
    tops = []
    for high in (5.0, 0.5):
        run = forecast_sheet(
            lambda q, high=high: np.where(np.hypot(*q.T) < 20.0, high, 0.0),
            frame_mm=disc(55.0),
            rim_colder_c=RIM_COLDER_C,
            **settings,
            **case,
        )
        tops.append(run.thickness_at(np.array([[0.0, 0.0, high], [8.0, 0.0, high]]))[0].mean())
    return float(tops[0] / tops[1])


# --- sliding with one coefficient


def sliding() -> Iterator[str]:
    """The rope over a cylinder, the dome, and a blunt cone with what it costs."""
    friction = borrowed("forming/test_friction")
    for coefficient in (0.1, 0.3, 0.5, 2.0):
        angle, thickness, result = friction.pulled_over_cylinder(coefficient, nodes=1000)
        lies = result.state == LANDED
        lies &= (angle > 0.2) & (angle < 0.85 * angle[lies].max())
        pull = 1.0 / thickness[lies] - thickness[lies] ** 3
        yield f"over half a cylinder, {coefficient:g}: {np.polyfit(angle[lies], np.log(pull), 1)[0]:.3f}"
    _, thickness, result = friction.pulled_over_cylinder(0.0)
    inside = thickness[result.state != CLAMPED]
    yield f"without friction, 600 nodes: spread of {np.ptp(inside) / inside.mean():.1%}"
    side = 2.0 * (30.0 + 40.0 * CONE_WALL) + 60.0
    for case in ({}, {"friction": 0.2}, {"friction": 0.2, "sticks_after": 0.5}):
        begin = time.process_time()
        run = forecast_sheet(
            friction.blunt_cone, frame_mm=(side, side), sheet_mm=1.5, quality="preview", **case
        )
        seconds = time.process_time() - begin
        top = run.thickness_at(np.array([[0.0, 0.0, 40.0]]))[0][0] / 1.5
        words = ", ".join(f"{key} {value:g}" for key, value in case.items()) or "sticks"
        up = run.formed.frame_mm[-1]
        yield f"blunt cone, {words}: top {top:.2f}, frame {up:.0f} mm up, {seconds:.1f} s"


# --- the classical picture


def classical() -> Iterator[str]:
    """Female cone against its closed form."""
    film = borrowed("forming/test_soap_film")
    for nodes in (3000, 12_000):
        grid, result, _, t = film.pressed(lambda r: r * film.SLOPE - film.SLOPE, nodes=nodes, pressure=30.0)
        depth = -result.points[:, 2] / film.SLOPE
        judged = (result.state == LANDED) & (depth < 0.9) & (np.hypot(*grid.nodes.T) < 0.96)
        e = t[judged] / (0.75 * (1 - depth[judged])) - 1
        yield f"female cone of 60 degrees, {nodes} nodes: RMS {film.rms(e):.1%}"


SECTIONS: dict[str, Callable[[], Iterator[str]]] = {
    one.__name__: one for one in (nets, rings, arch, slip, sliding, classical)
}


def main() -> None:
    """Print what is asked for."""
    parser = argparse.ArgumentParser(description="Reprint the figures of docs/explanation/forecast.md.")
    parser.add_argument("sections", nargs="*", metavar="SECTION", help=", ".join(SECTIONS))
    asked = parser.parse_args().sections or list(SECTIONS)
    if unknown := set(asked) - set(SECTIONS):
        parser.error(f"no section called {', '.join(sorted(unknown))}; there are {', '.join(SECTIONS)}")
    for name in asked:
        print(f"\n## {name}", flush=True)
        for line in SECTIONS[name]():
            print(line, flush=True)


if __name__ == "__main__":
    main()
