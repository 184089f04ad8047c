"""Tasks worked out by processes of this machine, as many as processors and memory allow.

Every worker is a pool of one process: one that dies takes its own task along and no other. That task is tried
once more, because a system that is short of memory may have ended any process.
"""

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from multiprocessing.connection import wait as wait_for

from buckwright.host import sweep_scratch
from buckwright.many.room import Room, held_bytes
from buckwright.many.work import CRASHED, Product, Task, failed, work_out

__all__ = ["Processes"]

_LOOK_S = 0.5
"""How often it is looked whether there is room for one more."""


class Processes:
    """Processes of this machine.

    Parameters
    ----------
    workers : how many at most; None takes one for each processor
    room : how many the memory holds
    """

    def __init__(self, workers: int | None = None, room: Room | None = None) -> None:
        self._most = workers or os.process_cpu_count() or 1
        self._room = room or Room()

    def run(self, tasks: Sequence[Task]) -> Iterator[Product]:
        """Products as they are ready; closing the iterator ends the processes at once."""
        sweep_scratch()
        waiting = deque(tasks)
        busy: dict[Future[Product], tuple[_Worker, Task]] = {}
        idle: list[_Worker] = []
        ended: list[_Worker] = []
        lost: set[str] = set()
        most = min(self._most, len(waiting))
        try:
            while waiting or busy:
                while waiting and (worker := self._next(most, busy, idle)):
                    begun = worker.begin(waiting[0])
                    if begun is None:  # it died while it had nothing to do
                        ended.append(worker)
                    else:
                        busy[begun] = worker, waiting.popleft()
                done, _ = wait(busy, timeout=_LOOK_S, return_when=FIRST_COMPLETED)
                for future in done:
                    worker, task = busy.pop(future)
                    if not isinstance(future.exception(), BrokenProcessPool):
                        idle.append(worker)
                    else:
                        ended.append(worker)
                        if task.name not in lost:
                            lost.add(task.name)
                            waiting.appendleft(task)
                            continue
                    product = _product(future, task)
                    self._room.note(product.peak_bytes)
                    yield product
        finally:
            for worker in (*idle, *ended, *(worker for worker, _ in busy.values())):
                worker.end()
            sweep_scratch()

    def _next(
        self, most: int, busy: dict[Future[Product], "tuple[_Worker, Task]"], idle: list["_Worker"]
    ) -> "_Worker | None":
        """A worker for one more task; None while there is no room for it."""
        if len(busy) >= most:
            return None
        held = idle[-1].held_bytes if idle else 0
        if not self._room.for_one_more([worker.held_bytes for worker, _ in busy.values()], held=held):
            return None
        return idle.pop() if idle else _Worker(max((os.process_cpu_count() or 1) // most, 1))


class _Worker:
    """A pool of one process."""

    def __init__(self, threads: int) -> None:
        self._pool = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"), initializer=_begin)
        # counts that libraries read once, when they are loaded
        with _environment(PYTHON_CPU_COUNT=str(threads), OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1"):
            self._process = self._pool.submit(os.getpid)

    @property
    def held_bytes(self) -> int:
        told = self._process
        return held_bytes(told.result()) if told.done() and told.exception() is None else 0

    def begin(self, task: Task) -> Future[Product] | None:
        """Hand over a task; None where the process is gone."""
        try:
            return self._pool.submit(work_out, task)
        except BrokenProcessPool:
            return None

    def end(self) -> None:
        told = False
        with suppress(Exception):  # it may have died before it told its number
            number, told = self._process.result(timeout=5.0), True
            os.kill(number, getattr(signal, "SIGKILL", signal.SIGTERM))
        self._pool.shutdown(wait=told, cancel_futures=True)


def _product(future: Future[Product], task: Task) -> Product:
    try:
        return future.result()
    except BrokenProcessPool:
        return failed(task.name, CRASHED)


@contextmanager
def _environment(**values: str) -> Iterator[None]:
    """Variables that a process which begins meanwhile inherits."""
    before = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _begin() -> None:
    """Make a process a worker: an interrupt is for the one that started it, and it ends with that one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    assert parent is not None
    threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(parent: int) -> None:
    wait_for([parent])
    os._exit(1)
