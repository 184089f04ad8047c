"""One job, worked out wherever there is room for it: a task goes there, and its product comes back.

A product holds the files themselves. Whoever asked for it publishes them, so that a worker that is killed, or
that stands on another machine, leaves nothing half-written.
"""

import os
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from buckwright import __version__
from buckwright.job import Job

if TYPE_CHECKING:
    from buckwright.clock import Progress

__all__ = ["CRASHED", "Product", "Task", "failed", "with_files", "work_out"]

CRASHED = "the work ended without an explanation, often a sign of too little memory"

# Drawing shares state within a process, and a job may use all the memory that there is.
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True, slots=True)
class Task:
    """What a worker needs to know.

    Attributes
    ----------
    name : of the job
    command : name of one of `COMMANDS`
    job : its settings; its sculpt may be in memory
    pictures : whether to draw
    version : of the library that asks
    files : name and content of files that the job names besides its sculpt, by table and key, for a worker
        that has none of them
    """

    name: str
    command: str
    job: Job
    pictures: bool = True
    version: str = __version__
    files: dict[tuple[str, str], tuple[str, bytes]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Product:
    """What came of a task.

    Attributes
    ----------
    name : of the job
    files : by name, the report among them
    releases : whether the part releases; None where the job failed
    wrong : why it failed; empty when it did not
    seconds : that it took
    peak_bytes : the most memory that the worker has held so far
    """

    name: str
    files: dict[str, bytes]
    releases: bool | None
    wrong: str = ""
    seconds: float = 0.0
    peak_bytes: int = 0


def failed(name: str, wrong: str) -> Product:
    """The product of a job that gave nothing."""
    return Product(name, {}, None, wrong)


def work_out(
    task: Task, *, progress: "Progress | None" = None, cancelled: Callable[[], bool] | None = None
) -> Product:
    """Work out one job; whatever goes wrong with it stands in the product.

    Parameters
    ----------
    task : see `Task`
    progress, cancelled : see `Clock`

    Raises
    ------
    Cancelled
        It was stopped.
    """
    from buckwright.errors import BuckwrightError, Cancelled

    begun = time.perf_counter()
    try:
        if task.version != __version__:
            raise BuckwrightError(f"a worker has buckwright {__version__}, {task.version} asks for it")
        with _ONE_AT_A_TIME:
            files, releases = _files_of(task, progress, cancelled)
    except Cancelled:
        raise
    except BuckwrightError as error:
        return failed(task.name, str(error))
    except MemoryError:
        return failed(task.name, "there is not enough memory for this sculpt; reduce it")
    except Exception as error:
        traceback.print_exc()
        return failed(task.name, f"internal error: {error!r}")
    return Product(
        task.name,
        files,
        releases,
        seconds=time.perf_counter() - begun,
        peak_bytes=_peak_bytes(),
    )


def _files_of(
    task: Task, progress: "Progress | None", cancelled: Callable[[], bool] | None
) -> tuple[dict[str, bytes], bool]:
    from buckwright.host import SCRATCH
    from buckwright.pipeline.rehearsal import REHEARSING
    from buckwright.pipeline.run import run

    os.environ.setdefault(REHEARSING, "1")  # all processors are at work already
    with tempfile.TemporaryDirectory(prefix=f"{SCRATCH}{os.getpid()}-") as home:
        folder = str(Path(home) / "out")
        Path(folder).mkdir()
        outcome = run(
            task.command,
            with_files(task, Path(home)),
            folder,
            pictures=task.pictures,
            progress=progress,
            cancelled=cancelled,
        )
        return {path.name: path.read_bytes() for path in sorted(Path(folder).iterdir())}, outcome.releases


def with_files(task: Task, home: Path) -> Job:
    """The job with the files that came along.

    Parameters
    ----------
    task : with its files
    home : a folder in which each gets one of its own
    """
    job = task.job
    for n, ((table, key), (name, content)) in enumerate(task.files.items()):
        place = home / str(n) / name
        place.parent.mkdir()
        place.write_bytes(content)
        job = job.evolved(**{table: {key: str(place)}})
    return job


def _peak_bytes() -> int:
    if sys.platform == "win32":
        try:
            import psutil
        except ImportError:  # a program that works out one job at a time does without
            return 0
        return int(psutil.Process().memory_info().peak_wset)
    import resource

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most if sys.platform == "darwin" else most * 1024
