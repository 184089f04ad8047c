"""Hand the results to the output room: all files of a run appear together or not at all."""

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from buckwright.job import Job
from buckwright.make.clock import Clock
from buckwright.make.looking import Looked
from buckwright.make.shaping import Shaped
from buckwright.make.standing import Standing, raised
from buckwright.mesh.triangles import Mesh
from buckwright.output.buck_pictures import BuckScene, draw_buck
from buckwright.output.files import Batch
from buckwright.output.look import FaceMaps, look_bytes, write_look
from buckwright.output.marks import RegionMark, VentMark
from buckwright.output.pictures import LookScene, draw_look
from buckwright.output.report import write_report
from buckwright.output.stl import stl_bytes
from buckwright.output.storable import StoredMesh
from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes
from buckwright.shape.solid import as_mesh, faces_of

__all__ = ["Results", "publish_look", "publishing"]


def publish_look(
    out: Path,
    job: Job,
    standing: Standing,
    looked: Looked,
    report: dict[str, Any],
    clock: Clock,
    *,
    pictures: bool,
) -> tuple[Path, ...]:
    """Write look.ply, report.json and the pictures of the sculpt."""
    maps = _maps(looked)
    drawn = {}
    if pictures:
        drawn = draw_look(_scene(job, standing.mesh, maps, looked, lift_mm=0.0, vents=(), trim_z_mm=None))
    clock.tick(0.6)
    with Batch(out) as batch:
        files = [batch.add("look.ply", lambda file: write_look(file, standing.mesh, maps))]
        files.append(batch.add("report.json", lambda file: write_report(file, report)))
        files += [_add_bytes(batch, name, data) for name, data in drawn.items()]
        clock.tick(0.95)
    return tuple(files)


class Results:
    """The files of a buck; drawing and encoding go on beside the survey of the buck."""

    def __init__(self, pool: ThreadPoolExecutor) -> None:
        self._pool = pool
        self._parts: dict[str, Future[dict[str, bytes]]] = {}

    def prepare(self, name: str, work: Callable[[], dict[str, bytes]]) -> None:
        """Begin one piece of work; it gives file names and their bytes."""
        self._parts[name] = self._pool.submit(work)

    def finish(self, tick: Callable[[float], None]) -> None:
        """Wait until all is encoded, asking now and then whether to go on."""
        while True:
            _, waiting = wait(self._parts.values(), timeout=0.1)
            tick(1.0 - len(waiting) / max(len(self._parts), 1))
            if not waiting:
                return

    def write(self, out: Path, report: dict[str, Any]) -> tuple[Path, ...]:
        """Publish everything at once."""
        encoded = {name: data for part in self._parts.values() for name, data in part.result().items()}
        with Batch(out) as batch:
            files = [_add_bytes(batch, name, data) for name, data in sorted(encoded.items())]
            files.append(batch.add("report.json", lambda file: write_report(file, report)))
        return tuple(files)

    def drop(self) -> None:
        """Give up what has not begun yet."""
        for part in self._parts.values():
            part.cancel()


@contextmanager
def publishing(
    job: Job, standing: Standing, looked: Looked, shaped: Shaped, buck: StoredMesh, *, pictures: bool
) -> Iterator[Results]:
    """Begin to draw and encode; nothing is written before `Results.write`."""
    lift = shaped.base.foot_z_mm
    title = job.job.name or job.sculpt_path.stem
    words = " ".join(part for part in (job.job.number, job.job.story) if part)
    sculpt, maps = raised(standing.mesh, lift), _maps(looked)
    vents = tuple(
        VentMark(np.array(vent.top_mm), vent.face.width_mm, i + 1)
        for i, vent in enumerate(shaped.aired.plan.vents)
    )
    with ThreadPoolExecutor(max_workers=2) as pool:
        results = Results(pool)
        try:
            if pictures:
                trim = shaped.base.trim_z_mm
                scene = _scene(job, sculpt, maps, looked, lift_mm=lift, vents=vents, trim_z_mm=trim)
                results.prepare("look", lambda: draw_look(scene))
            if threemf_available() is None:
                metadata = Metadata(title=title, description=words)
                results.prepare("3mf", lambda: {"buck.3mf": threemf_bytes(buck, metadata=metadata)})
            if pictures:
                results.prepare("buck", lambda: draw_buck(_buck_scene(job, shaped, vents)))
            results.prepare("stl", lambda: {"buck.stl": stl_bytes(buck, title=title)})
            results.prepare("map", lambda: {"look.ply": look_bytes(sculpt, maps)})
            yield results
        except BaseException:
            results.drop()
            raise


def _add_bytes(batch: Batch, name: str, data: bytes) -> Path:
    return batch.add(name, lambda file: file.write(data))


def _maps(looked: Looked) -> FaceMaps:
    return FaceMaps(
        state=looked.states.state,
        draft_deg=np.nan_to_num(looked.reach.drafts_deg),
        depth_mm=looked.reach.depth_mm,
        sideways_mm=looked.sideways,
        region=looked.undercuts.region_of_face,
    )


def _scene(
    job: Job,
    mesh: Mesh,
    maps: FaceMaps,
    looked: Looked,
    *,
    lift_mm: float,
    vents: tuple[VentMark, ...],
    trim_z_mm: float | None,
) -> LookScene:
    regions = tuple(
        RegionMark(
            i + 1,
            np.array(region.centre_mm) + np.array([0.0, 0.0, lift_mm]),
            f"{region.sideways_mm:.1f} mm sideways, {release.verdict}",
        )
        for i, (region, release) in enumerate(zip(looked.undercuts.regions, looked.releases))
    )
    return LookScene(
        title=job.job.name or job.sculpt_path.stem,
        mesh=mesh,
        maps=maps,
        wanted_draft_deg=looked.wanted_deg,
        regions=regions,
        vents=vents,
        trim_z_mm=trim_z_mm,
    )


def _buck_scene(job: Job, shaped: Shaped, vents: tuple[VentMark, ...]) -> BuckScene:
    buck = as_mesh(shaped.solid)
    part = np.full(buck.face_count, 2, np.uint8)
    above = buck.centroids()[:, 2] > shaped.base.foot_z_mm
    part[above] = 0
    if shaped.fill.mark >= 0:
        part[faces_of(shaped.solid, shaped.fill.mark)] = 1
    facts = (
        f"Filled: {shaped.fill.added_volume_mm3 / 1000.0:.1f} cm\u00b3",
        f"Buck: {shaped.solid.volume() / 1000.0:.0f} cm\u00b3",
    )
    return BuckScene(
        title=job.job.name or job.sculpt_path.stem,
        mesh=buck,
        part=part,
        vents=vents,
        trim_z_mm=shaped.base.trim_z_mm,
        facts=facts,
    )
