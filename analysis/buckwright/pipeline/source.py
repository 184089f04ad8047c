"""Where the sculpt comes from: a file, or a mesh in memory."""

import hashlib
import secrets
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import MeshError
from buckwright.job import Job
from buckwright.mesh.bounds import regular_size
from buckwright.mesh.reading import Sculpt, read_sculpt
from buckwright.mesh.textures import read_texture
from buckwright.settings import settings_of

__all__ = ["FileSource", "MemorySource", "Source", "contents_of", "source_of"]


class Source(Protocol):
    """A sculpt that can be read, and known again."""

    def read(self) -> Sculpt:
        """The sculpt."""
        ...

    def texture(self) -> NDArray[np.float64] | None:
        """Texture coordinates (F, 3, 2) of its faces; None where it has none."""
        ...

    def digest(self) -> str:
        """A hash of its content."""
        ...


class FileSource:
    """A sculpt in a file."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def read(self) -> Sculpt:
        """Read the file; errors as `read_sculpt`."""
        return read_sculpt(self._path)

    def texture(self) -> NDArray[np.float64] | None:
        """Read them; errors as `read_texture`."""
        return read_texture(self._path)

    def digest(self) -> str:
        """Hash of content and format."""
        try:
            regular_size(self._path)
            with self._path.open("rb") as file:
                content = hashlib.file_digest(file, "sha256").hexdigest()
        except (OSError, MeshError):  # reading the sculpt will say what is wrong
            content = secrets.token_hex()
        return f"{content} {self._path.suffix.lower()}"


class MemorySource:
    """A sculpt in memory."""

    def __init__(self, sculpt: Sculpt) -> None:
        self._sculpt = sculpt

    def read(self) -> Sculpt:
        """The sculpt as it was given."""
        return self._sculpt

    def texture(self) -> NDArray[np.float64] | None:
        """Those that came with it."""
        return self._sculpt.texture

    def digest(self) -> str:
        """Hash of its arrays and its unit."""
        mesh = self._sculpt.mesh
        known = hashlib.sha256(repr((self._sculpt.unit_in_file, mesh.vertices.shape)).encode())
        known.update(np.ascontiguousarray(mesh.vertices).tobytes())
        known.update(np.ascontiguousarray(mesh.faces).tobytes())
        if self._sculpt.texture is not None:
            known.update(np.ascontiguousarray(self._sculpt.texture).tobytes())
        return known.hexdigest()


def source_of(job: Job) -> Source:
    """The sculpt of a job: the one in memory, else its file.

    Raises
    ------
    JobError
        The job names no file.
    """
    return FileSource(job.sculpt_path) if job.given is None else MemorySource(job.given)


def contents_of(job: Job, table: str) -> dict[str, str]:
    """Hashes of the files that a table names, by key; the sculpt is left out, whose source tells its own."""
    settings = settings_of(type(job.tables[table]))
    named = {key: getattr(job.tables[table], key) for key, one in settings.items() if one.names_file}
    if table == "sculpt":
        return {}
    return {key: FileSource(job.folder / file).digest() for key, file in named.items() if file}
