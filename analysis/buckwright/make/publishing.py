"""Hand the results to the output room: all files of a run appear together or not at all."""

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from buckwright.job import Job
from buckwright.make.clock import Clock
from buckwright.make.handing import face_sources, look_arrays, write_arrays
from buckwright.make.looking import Looked
from buckwright.make.standing import Standing, raised
from buckwright.output.files import Batch, Writer, refuse_unwritable
from buckwright.output.report import write_report
from buckwright.output.stl import stl_bytes
from buckwright.output.storable import StoredMesh
from buckwright.output.threemf import Metadata, threemf_available, threemf_bytes
from buckwright.shape.solid import as_mesh
from buckwright.survey.face_maps import FaceMaps, look_bytes, write_look

if TYPE_CHECKING:
    from buckwright.make.shaping import Shaped

__all__ = ["Places", "Results", "publish_look", "publishing", "written"]


@dataclass(frozen=True, slots=True)
class Places:
    """Where a run writes.

    Attributes
    ----------
    out : folder of the files for people; None for none
    results : folder of report.json and arrays.npz for a program; None for none

    Raises
    ------
    OutputError
        One of them cannot be written.
    """

    out: Path | None
    results: Path | None = None

    def __post_init__(self) -> None:
        """Stop before long work whose results could not be written."""
        for folder in (self.out, self.results):
            if folder is not None:
                refuse_unwritable(folder)

    def write(
        self,
        files: Mapping[str, Writer],
        report: dict[str, Any],
        arrays: dict[str, Any],
        gate: Callable[[], None] | None,
    ) -> tuple[Path, ...]:
        """Publish everything at once; returns the files for people."""
        written: list[Path] = []
        home = self.out if self.out is not None else self.results
        if home is None:
            return ()
        with Batch(home, gate) as batch:
            if self.out is not None:
                written += [batch.add(name, writer) for name, writer in files.items()]
                written.append(batch.add("report.json", lambda file: write_report(file, report)))
            if self.results is not None:
                batch.add("report.json", lambda file: write_report(file, report), into=self.results)
                batch.add("arrays.npz", lambda file: write_arrays(file, arrays), into=self.results)
        return tuple(written)


def publish_look(
    places: Places,
    job: Job,
    standing: Standing,
    looked: Looked,
    report: dict[str, Any],
    clock: Clock,
    *,
    pictures: bool,
) -> tuple[Path, ...]:
    """Write look.ply, report.json and the pictures of the sculpt; the arrays of the look."""
    files: dict[str, Writer] = {}
    arrays: dict[str, Any] = {}
    if places.out is not None:
        maps = _maps(looked)
        files["look.ply"] = lambda file: write_look(file, standing.mesh, maps)
        if pictures:
            from buckwright.make.picturing import sculpt_pictures

            drawn = sculpt_pictures(job, standing.mesh, maps, looked)
            files |= {name: written(data) for name, data in drawn.items()}
    clock.tick(0.6)
    if places.results is not None:
        arrays = look_arrays(standing, looked, face_sources(standing), lift_mm=0.0)
    clock.tick(0.8)
    return places.write(files, report, arrays, clock.gate)


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

    def files(self) -> dict[str, Writer]:
        """What was encoded, by file name."""
        encoded = {name: data for part in self._parts.values() for name, data in part.result().items()}
        return {name: written(data) for name, data in sorted(encoded.items())}

    def drop(self) -> None:
        """Give up what has not begun yet."""
        for part in self._parts.values():
            part.cancel()


@contextmanager
def publishing(
    places: Places,
    job: Job,
    standing: Standing,
    looked: Looked,
    shaped: "Shaped",
    buck: StoredMesh,
    *,
    pictures: bool,
) -> Iterator[Results]:
    """Begin to draw and encode what people want; nothing is written before `Places.write`."""
    lift = shaped.base.foot_z_mm
    title = job.job.name or job.sculpt_path.stem
    words = " ".join(part for part in (job.job.number, job.job.story) if part)
    sculpt, maps = raised(standing.mesh, lift), _maps(looked)
    with ThreadPoolExecutor(max_workers=2) as pool:
        results = Results(pool)
        if places.out is None:
            yield results
            return
        try:
            if pictures:
                from buckwright.make.picturing import buck_pictures, sculpt_pictures, sheet_pictures

                results.prepare("look", lambda: sculpt_pictures(job, sculpt, maps, looked, shaped=shaped))
            if threemf_available() is None:
                metadata = Metadata(title=title, description=words)
                results.prepare("3mf", lambda: {"buck.3mf": threemf_bytes(buck, metadata=metadata)})
            if pictures:
                results.prepare("buck", lambda: buck_pictures(job, shaped))
                if shaped.foretold is not None:
                    sheet, blank = shaped.foretold, as_mesh(shaped.blank)
                    results.prepare("sheet", lambda: sheet_pictures(job, sheet, blank))
            results.prepare("stl", lambda: {"buck.stl": stl_bytes(buck, title=title)})
            results.prepare("map", lambda: {"look.ply": look_bytes(sculpt, maps)})
            yield results
        except BaseException:
            results.drop()
            raise


def written(data: bytes) -> Writer:
    """Bytes as something that a file can be filled by."""
    return lambda file: file.write(data)


def _maps(looked: Looked) -> FaceMaps:
    return FaceMaps(
        state=looked.states.state,
        draft_deg=np.nan_to_num(looked.reach.drafts_deg),
        depth_mm=looked.reach.depth_mm,
        sideways_mm=looked.sideways,
        region=looked.undercuts.region_of_face,
    )
