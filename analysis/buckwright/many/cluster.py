"""Tasks worked out by the workers of a Dask cluster; sculpts go to them in memory, files come back."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from buckwright.errors import BuckwrightError, InputError, JobError
from buckwright.job import Job
from buckwright.many.work import CRASHED, Product, Task, failed, work_out
from buckwright.mesh.bounds import shown
from buckwright.pipeline.source import source_of
from buckwright.settings import settings_of

__all__ = ["Cluster", "whole"]

_AHEAD = 2
"""Tasks that are handed over for each worker, so that none waits for the next. House rule."""
_PATIENCE_S = 20.0


class Cluster:
    """A cluster, known by the address of its scheduler.

    Parameters
    ----------
    scheduler : as 'tcp://192.168.0.5:8786'

    Raises
    ------
    InputError
        The library for clusters is not installed.
    """

    def __init__(self, scheduler: str) -> None:
        try:
            import distributed
        except ImportError as error:
            words = "a cluster needs a library that is not installed: pip install 'buckwright[dask]'"
            raise InputError(words) from error
        self._dask: Any = distributed  # its functions are not typed
        self._scheduler = scheduler

    def run(self, tasks: Sequence[Task]) -> Iterator[Product]:
        """Products as they are ready; closing the iterator takes back what has not begun.

        Raises
        ------
        InputError
            No scheduler answers at the address.
        """
        try:
            client = self._dask.Client(self._scheduler, timeout=_PATIENCE_S, set_as_default=False)
        except (OSError, ValueError) as error:
            raise InputError(f"no scheduler answers at {self._scheduler}: {error}") from error
        with client:
            yield from self._products(client, tasks)

    def _products(self, client: Any, tasks: Sequence[Task]) -> Iterator[Product]:
        left = iter(tasks)
        names: dict[str, Task] = {}
        done = self._dask.as_completed(loop=client.loop)

        def hand_over(count: int) -> Iterator[Product]:
            for task in itertools.islice(left, count):
                try:
                    future = client.submit(work_out, whole(task), pure=False)
                except BuckwrightError as error:
                    yield failed(task.name, str(error))
                    continue
                names[future.key] = task
                done.add(future)

        try:
            yield from hand_over(_AHEAD * max(len(client.scheduler_info(n_workers=-1)["workers"]), 1))
            for future in done:
                yield _product(future, names.pop(future.key))
                future.release()
                yield from hand_over(1)
        finally:
            client.cancel(list(done.futures))


def whole(task: Task) -> Task:
    """The task with its sculpt and other files in memory: a worker on another machine has none of them.

    Parameters
    ----------
    task : whose job names files

    Raises
    ------
    BuckwrightError
        A file cannot be read.
    """
    source = source_of(task.job)
    sculpt = source.read()
    if task.job.artwork.by == "uv":
        sculpt = replace(sculpt, texture=source.texture())
    return replace(task, job=task.job.with_sculpt(sculpt), files=_named_files(task.job))


def _named_files(job: Job) -> dict[tuple[str, str], tuple[str, bytes]]:
    """Name and content of every file that a job names besides its sculpt.

    Raises
    ------
    JobError
        One cannot be read.
    """
    found = {}
    for table, held in job.tables.items():
        for key, setting in settings_of(type(held)).items():
            name = getattr(held, key) if setting.names_file and table != "sculpt" else ""
            if not name:
                continue
            path = job.folder / name
            try:
                found[table, key] = (path.name, path.read_bytes())
            except OSError as error:
                raise JobError(f"[{table}] {key}: {shown(path)} cannot be read: {error.strerror}") from error
    return found


def _product(future: Any, task: Task) -> Product:
    if future.status == "finished":
        product: Product = future.result()
        return product
    error = future.exception()
    lost = type(error).__name__ in ("KilledWorker", "FutureCancelledError", "CancelledError")
    return failed(task.name, CRASHED if lost else f"internal error: {error!r}")
