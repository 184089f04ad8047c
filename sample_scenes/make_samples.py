"""Make the sample sculpts: `make_samples.py [NAME ...] [--coarse FACTOR] [--into FOLDER] [--again]`.

Without names every sculpt is made; one that is newer than the recipes is left alone.
"""

import argparse
import importlib
import os
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
NAMES = sorted(path.stem for path in (HERE / "sculpts").glob("[a-z]*.py"))


def main(words: list[str] | None = None) -> int:
    """Make what the command line asks for; one line of text a sculpt."""
    parser = command("Make the sample sculpts.", gets="NAME/sculpt.*")
    parser.add_argument("--again", action="store_true", help="make also what is up to date")
    asked = parsed(parser, words)
    for name in asked.names:
        print(make(name, coarse=asked.coarse, into=asked.into, again=asked.again), flush=True)
    return 0


def command(description: str, *, gets: str) -> argparse.ArgumentParser:
    """A command line that names samples, how coarse, and the folder that `gets` what is made."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(NAMES))
    parser.add_argument("--coarse", type=float, default=1.0, help="multiply the mesh spacing (1: full)")
    parser.add_argument("--into", type=Path, default=HERE, help=f"folder that gets {gets}")
    return parser


def parsed(parser: argparse.ArgumentParser, words: list[str] | None) -> argparse.Namespace:
    """What is asked for, checked; all samples if none is named."""
    asked = parser.parse_args(words)
    unknown = sorted(set(asked.names) - set(NAMES))
    if unknown:
        parser.error(f"no sculpt called {', '.join(unknown)}; there are {', '.join(NAMES)}")
    if not asked.coarse > 0:
        parser.error(f"--coarse must be greater than 0, got {asked.coarse}")
    asked.names = asked.names or NAMES
    return asked


def make(name: str, *, coarse: float = 1.0, into: Path = HERE, again: bool = False) -> str:
    """Write one sculpt to `into`/name; return a line that says what was done."""
    from sculpting.files import write

    recipe = importlib.import_module(f"sculpts.{name}")
    path = into / name / recipe.FILE
    if not again and coarse == 1.0 and path.exists() and path.stat().st_mtime > _newest_source(name):
        return f"{name}: up to date ({path.name})"
    start = time.perf_counter()
    vertices, faces = recipe.sculpt(coarse)
    path.parent.mkdir(parents=True, exist_ok=True)
    write(path, vertices, faces, unit_mm=recipe.UNIT_MM, readable=getattr(recipe, "ASCII", False))
    if coarse != 1.0:
        os.utime(path, (0, 0))  # a rough one must never pass for up to date
    size = " x ".join(f"{extent:.0f}" for extent in vertices.max(0) - vertices.min(0))
    return f"{name}: {path.name}, {len(faces)} faces, {size} mm, {time.perf_counter() - start:.1f} s"


def _newest_source(name: str) -> float:
    sources = [HERE / "make_samples.py", HERE / "sculpts" / f"{name}.py", *(HERE / "sculpting").glob("*.py")]
    return max(path.stat().st_mtime for path in sources)


if __name__ == "__main__":
    sys.exit(main())
