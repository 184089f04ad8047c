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
from buckwright.output.files import Batch
from buckwright.output.look import FaceMaps, look_bytes, write_look
from buckwright.output.report import write_report
from buckwright.output.stl import stl_bytes
from buckwright.output.storable import StoredMesh
from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes

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
        from buckwright.make.picturing import sculpt_pictures

        drawn = sculpt_pictures(job, standing.mesh, maps, looked)
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
    with ThreadPoolExecutor(max_workers=2) as pool:
        results = Results(pool)
        try:
            if pictures:
                from buckwright.make.picturing import buck_pictures, sculpt_pictures

                results.prepare("look", lambda: sculpt_pictures(job, sculpt, maps, looked, shaped=shaped))
            if threemf_available() is None:
                metadata = Metadata(title=title, description=words)
                results.prepare("3mf", lambda: {"buck.3mf": threemf_bytes(buck, metadata=metadata)})
            if pictures:
                results.prepare("buck", lambda: buck_pictures(job, shaped))
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
