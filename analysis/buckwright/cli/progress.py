"""Progress of a run on a terminal: one line that says which step is under way and how far it is."""

from typing import Self

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

__all__ = ["ProgressLine"]


class ProgressLine:
    """A line on stderr; call it with the name of a step and the share of it that is done."""

    def __init__(self) -> None:
        console = Console(stderr=True)
        columns = (TextColumn("{task.description:<40.40}"), BarColumn(24), TimeElapsedColumn())
        # In a file or a pipe it would only be noise.
        quiet = not console.is_terminal
        self._line = Progress(*columns, console=console, transient=True, disable=quiet)
        self._task = self._line.add_task("starting", total=1.0)

    def __enter__(self) -> Self:
        self._line.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._line.stop()

    def __call__(self, step: str, share: float) -> None:
        """Tell how far a step is, 0 to 1."""
        self._line.update(self._task, description=step, completed=share)
