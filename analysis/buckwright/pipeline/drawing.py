"""Files and pictures of a run, made beside the work: each as soon as everything that it shows is known."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager, suppress
from importlib import import_module

from buckwright.stage import Papers, Stage, Told

__all__ = ["Drawing", "drawing", "drawn_now"]

type Telling = Callable[[], Told]


class Drawing:
    """Papers in the making.

    Parameters
    ----------
    stages : whose papers are wanted
    worked_out : names of all results that the run works out
    pictures : whether pictures are wanted
    told : gives what may be shown at the moment
    """

    def __init__(
        self, stages: Sequence[Stage], worked_out: Sequence[str], *, pictures: bool, told: Telling
    ) -> None:
        self._told = told
        self._waiting = [
            (stage, papers, {stage.gives, *(name for name in papers.after if name in worked_out)})
            for stage in stages
            for papers in stage.papers
            if pictures or not papers.picture
        ]
        self._pool = ThreadPoolExecutor(max_workers=2)
        self._parts: list[Future[Mapping[str, bytes]]] = []
        tables = told().job.tables
        modules = [
            name for stage, papers, _ in self._waiting if stage.wanted(tables) for name in papers.loads
        ]
        self._pool.submit(_load, modules)

    def begin(self, done: Sequence[str]) -> None:
        """Begin what only waited for results that are there now."""
        ready = [entry for entry in self._waiting if entry[2] <= set(done)]
        self._waiting = [entry for entry in self._waiting if entry not in ready]
        told = self._told()
        for stage, papers, _ in ready:
            result = told.get(stage.gives)
            if result is not None:
                self._parts.append(self._pool.submit(papers.make, result, told))

    def beside[T](self, work: Callable[[], T]) -> Future[T]:
        """Begin other work that only the files of the run need.

        Parameters
        ----------
        work : called in a thread of the papers
        """
        return self._pool.submit(work)

    def finish(self, tick: Callable[[float], None]) -> dict[str, bytes]:
        """Wait for everything, asking now and then whether to go on; the files by name, sorted."""
        while True:
            _, waiting = wait(self._parts, timeout=0.1)
            tick(1.0 - len(waiting) / max(len(self._parts), 1))
            if not waiting:
                break
        return dict(sorted((name, data) for part in self._parts for name, data in part.result().items()))

    def drop(self) -> None:
        """Give up what has not begun yet."""
        for part in self._parts:
            part.cancel()

    def close(self) -> None:
        """Wait for what has begun."""
        self._pool.shutdown()


def _load(modules: Sequence[str]) -> None:
    for module in dict.fromkeys(modules):
        with suppress(ImportError):  # told of by what needs it
            import_module(module)


@contextmanager
def drawing(
    stages: Sequence[Stage], worked_out: Sequence[str], *, pictures: bool, told: Telling
) -> Iterator[Drawing]:
    """Papers in the making; whatever has not begun is given up when the work ends early."""
    papers = Drawing(stages, worked_out, pictures=pictures, told=told)
    try:
        yield papers
    except BaseException:
        papers.drop()
        raise
    finally:
        papers.close()


def drawn_now(stages: Sequence[Stage], told: Told, wanted: Callable[[Papers], bool]) -> dict[str, bytes]:
    """Papers of results that are known, made at once; files by name, sorted."""
    files: dict[str, bytes] = {}
    for stage in stages:
        result = told.get(stage.gives)
        for papers in stage.papers:
            if result is not None and wanted(papers):
                files |= papers.make(result, told)
    return dict(sorted(files.items()))
