"""Presets: settings kept under a name, as TOML, for other scenes.

A few presets come with the extension; those of the user stand beside them in the extension's own folder, and
go before one of the same name.
"""

import tomllib
from pathlib import Path
from typing import Any

import bpy
import tomli_w

from ..bridge.library import BuckwrightError, job_from, renamed
from . import settings
from .fields import fields
from .files import UNFIT, user_folder, write_whole
from .snapshot import Refused

__all__ = [
    "KINDS",
    "Kind",
    "load_preset",
    "own_preset_names",
    "preset_names",
    "remove_preset",
    "save_preset",
]

type Kind = str


def _kinds() -> dict[Kind, tuple[tuple[str, str], ...] | None]:
    """What the library declares, and a whole job."""
    kinds: dict[Kind, tuple[tuple[str, str], ...] | None] = {}
    for field in sorted(fields(), key=lambda one: one.setting.preset):
        if kind := field.setting.preset:
            kinds[kind] = (*(kinds.get(kind) or ()), (field.table, field.key))
    return {**kinds, "job": None}


KINDS = _kinds()
"""Keys that a preset holds; a job holds all but its words, its sculpt and what was changed by hand."""

_NOT_IN_PRESETS = ("job", "sculpt")
_BUNDLED = Path(__file__).parents[1] / "presets"


def preset_names(kind: Kind) -> list[str]:
    """Names of the presets of a kind, sorted."""
    return sorted({path.stem for folder in _folders(kind) for path in folder.glob("*.toml")})


def own_preset_names(kind: Kind) -> list[str]:
    """Names of the presets that the user has saved, sorted."""
    folder = _folder(kind, create=False)
    return sorted(path.stem for path in folder.glob("*.toml")) if folder is not None else []


def save_preset(scene: bpy.types.Scene, kind: Kind, name: str) -> Path:
    """Keep the settings of a kind under a name.

    Raises
    ------
    Refused
        The name cannot be a file's, or the folder cannot be written.
    """
    if not name.strip() or UNFIT.search(name) or name.strip(". ") != name:
        raise Refused(f"'{name}' cannot be the name of a preset: use letters, digits, spaces and hyphens")
    folder = _folder(kind, create=True)
    if folder is None:
        raise Refused("The extension's own folder cannot be written to, so presets cannot be saved")
    path = folder / f"{name}.toml"
    try:
        write_whole(path, tomli_w.dumps(_part(settings.read_tables(scene), kind)))
    except OSError as error:
        raise Refused(f"The preset cannot be written: {error.strerror or error}") from error
    return path


def load_preset(scene: bpy.types.Scene, kind: Kind, name: str) -> None:
    """Take the settings of a preset; those of its kind that it leaves out take defaults, the rest stays.

    Raises
    ------
    Refused
        There is no such preset, or it holds a setting that cannot be used.
    """
    try:
        tables = renamed(tomllib.loads(_preset(kind, name).read_text(encoding="utf-8-sig")))
        job_from(tables, where=f"The preset '{name}'")
    except BuckwrightError as error:
        raise Refused(str(error)) from error
    except (OSError, ValueError) as error:
        raise Refused(f"The preset '{name}' cannot be read: {error}") from error
    now = settings.read_tables(scene)
    for table, values in _part(now, kind).items():
        for key in values:
            now[table].pop(key)
    for table, values in _part(tables, kind).items():
        now.setdefault(table, {}).update(values)
    settings.write_tables(scene, now)


def remove_preset(kind: Kind, name: str) -> None:
    """Delete a preset of the user.

    Raises
    ------
    Refused
        It cannot be deleted.
    """
    folder = _folder(kind, create=False)
    try:
        if folder is not None:
            (folder / f"{name}.toml").unlink()
    except OSError as error:
        raise Refused(f"The preset '{name}' cannot be deleted: {error.strerror or error}") from error


def _part(tables: dict[str, dict[str, Any]], kind: Kind) -> dict[str, dict[str, Any]]:
    """The keys of a kind that are there."""
    keys = KINDS[kind]
    part = {
        table: {key: v for key, v in values.items() if keys is None or (table, key) in keys}
        for table, values in tables.items()
        if table not in _NOT_IN_PRESETS
    }
    return {table: values for table, values in part.items() if values}


def _folders(kind: Kind) -> list[Path]:
    """Where presets of a kind are looked for, the user's own first."""
    own = _folder(kind, create=False)
    return [folder for folder in (own, _BUNDLED / kind) if folder is not None]


def _preset(kind: Kind, name: str) -> Path:
    """The file of a preset.

    Raises
    ------
    FileNotFoundError
        There is none.
    """
    for folder in _folders(kind):
        if (path := folder / f"{name}.toml").is_file():
            return path
    raise FileNotFoundError(f"there is no {kind} preset of that name")


def _folder(kind: Kind, *, create: bool) -> Path | None:
    return user_folder(f"presets/{kind}", create=create)
