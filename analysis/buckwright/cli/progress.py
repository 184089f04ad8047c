"""Progress of a run on a terminal: one bar for each step that takes long enough to be seen."""

from typing import Any, Self

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

__all__ = ["Bars"]


class Bars:
    """Bars on stderr; call it with the name of a step and the share of it that is done."""

    def __init__(self) -> None:
        console = Console(stderr=True)
        columns = (TextColumn("{task.description:<26}"), BarColumn(), TimeElapsedColumn())
        # In a file or a pipe bars are only noise.
        quiet = not console.is_terminal
        self._bars = Progress(*columns, console=console, transient=True, disable=quiet)
        self._tasks: dict[str, Any] = {}

    def __enter__(self) -> Self:
        self._bars.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bars.stop()

    def __call__(self, step: str, share: float) -> None:
        """Tell how far a step is, 0 to 1."""
        if step not in self._tasks:
            self._tasks[step] = self._bars.add_task(step, total=1.0)
        self._bars.update(self._tasks[step], completed=share)
