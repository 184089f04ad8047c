"""`start`: a commented job file for a sculpt."""

from pathlib import Path

from buckwright.errors import InputError
from buckwright.job import Job, name_after
from buckwright.job.files import commented_job
from buckwright.mesh.reading import read_sculpt
from buckwright.mesh.units import doubtful_size, mm_per
from buckwright.output.files import write_safely

__all__ = ["start_job", "write_sample"]

_HEAD = """\
# A job for buckwright. Lines that begin with '# ' and a key show what else can be set, with the value that
# holds now or a typical one; take the '# ' away to set it. Lengths are millimetres, angles degrees.

"""


def write_sample(path: Path, *, force: bool = False) -> None:
    """Write the small sculpt that comes along.

    Parameters
    ----------
    path : an STL file
    force : replace a file that is there

    Raises
    ------
    InputError
        The file is there already, or its name is not that of an STL file.
    OutputError
        It cannot be written.
    """
    if path.suffix.lower() != ".stl":
        raise InputError(f"the sample is an STL file; name it {path.with_suffix('.stl').name}, for example")
    if path.exists() and not force:
        raise InputError(f"{path} is there already; choose another name, or replace it with --force")
    from buckwright.cli.sample import finial
    from buckwright.output.stl import stl_bytes
    from buckwright.output.storable import storable

    data = stl_bytes(storable(finial()), title="finial")
    write_safely(path, lambda file: file.write(data))


def start_job(sculpt: Path, out: Path | None, *, force: bool = False) -> tuple[Path, str]:
    """Write a job file for a sculpt.

    Parameters
    ----------
    sculpt : its file
    out : the job file; None takes job.toml beside the sculpt
    force : replace a file that is there

    Returns
    -------
    The job file, and what there is to say: size, unit, doubts

    Raises
    ------
    InputError
        The sculpt cannot be read or its path is no plain text, or the job file is there already.
    OutputError
        The job file cannot be written.
    """
    path = out if out is not None else sculpt.parent / "job.toml"
    if path.exists() and not force:
        raise InputError(f"{path} is there already; choose another with --out, or replace it with --force")
    try:
        str(sculpt).encode()
    except UnicodeEncodeError as error:
        words = "has letters in its path that are no text, which a job file cannot hold; rename it"
        raise InputError(f"{name_after(sculpt)}{sculpt.suffix} {words}") from error
    given = read_sculpt(sculpt)
    unit = given.unit_in_file or "mm"
    size = given.mesh.size * mm_per(unit)
    file = sculpt.resolve()
    home = path.resolve().parent
    name = str(file.relative_to(home)) if file.is_relative_to(home) else str(file)
    job = Job(job={"name": name_after(sculpt)}, sculpt={"file": name, "unit": given.unit_in_file})
    sides = ("width_mm", "depth_mm", "height_mm")
    examples = {f"sculpt.{side}": round(float(length), 2) for side, length in zip(sides, size)}
    text = _HEAD + commented_job(job, examples=examples)
    write_safely(path, lambda opened: opened.write(text.encode()))
    x, y, z = size
    words = f"{path}: {sculpt.name} is {x:.1f} x {y:.1f} x {z:.1f} mm, {given.mesh.face_count:,} faces."
    doubt = doubtful_size(size)
    if doubt is not None:
        words += f"\n{doubt} Set unit or height_mm under [sculpt]."
    return path, words
