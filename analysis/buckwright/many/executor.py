"""Who works tasks out: the interface, and which one is taken."""

from collections.abc import Iterator, Sequence
from typing import Protocol

from buckwright.errors import InputError
from buckwright.many.work import Product, Task

__all__ = ["Executor", "executor_for"]


class Executor(Protocol):
    """Works out tasks, several at once."""

    def run(self, tasks: Sequence[Task]) -> Iterator[Product]:
        """Products as they are ready, one for each task; closing the iterator ends all work at once."""
        ...


def executor_for(scheduler: str | None, workers: int | None) -> Executor:
    """Processes of this machine, or a cluster where its address is given.

    Parameters
    ----------
    scheduler : address of a Dask scheduler, as 'tcp://192.168.0.5:8786'
    workers : how many processes at most; None takes one for each processor

    Raises
    ------
    InputError
        A cluster is asked for and its library is not installed, or both are given.
    """
    if scheduler is None:
        from buckwright.many.processes import Processes

        return Processes(workers)
    if workers is not None:
        raise InputError("the scheduler decides how many workers there are; leave out the number of workers")
    from buckwright.many.cluster import Cluster

    return Cluster(scheduler)
