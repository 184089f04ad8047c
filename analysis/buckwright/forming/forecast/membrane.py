"""The law of the hot sheet: an incompressible rubber-like membrane, its forces and its stiffness.

Everything is in units of the shear modulus and the thickness of the sheet: a force per length of 1 is
modulus x thickness, and a pressure has the unit 1/mm.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buckwright.errors import InputError
from buckwright.forming.forecast.hinges import HINGE, Hinges, add_hinge_forces, hinges_of, slackness
from buckwright.kernel import in_parts, kernel

__all__ = [
    "Law",
    "Reference",
    "forces",
    "laws",
    "reference",
    "spoilt",
    "stiffness",
    "stretches",
]

# How far a face's normal points down where it starts to lose pressure, and where none is left (judgement).
_OPEN, _SHUT = 0.3, 0.6
# Share of its stiffness that the sheet keeps under compression: on a ball on a stem, with hinges, 0.02, 0.1
# and 0.2 give 2.1, 1.3 and 0.8 % RMS against rings that keep none.
_SLACK = 0.2
_WORTH_THREADS = 1 << 16  # triangles from which half of them are worth a thread
_HINGE_BOUND = 4.0  # stiffness that a hinge adds to its triangles, at most, over its own
_LEAST_SIDEWAYS = 0.2  # least stiffness against moving out of plane, so that a slack sheet keeps some


@dataclass(frozen=True, slots=True)
class Law:
    """Mooney-Rivlin energy W = mu / 2 ((1 - share) (I1 - 3) + share (I2 - 3)).

    Attributes
    ----------
    share : share of the second invariant, 0 (neo-Hookean) to 0.5; it stiffens a sheet that is stretched
        both ways, so that it has no limit pressure as the neo-Hookean one has
    """

    share: float = 0.0

    def __post_init__(self) -> None:
        """Check the share."""
        if not 0.0 <= self.share <= 0.5:
            raise InputError(f"the share of the second invariant must be between 0 and 0.5, got {self.share}")

    @property
    def name(self) -> str:
        """Its usual name."""
        return "Mooney-Rivlin" if self.share else "neo-Hookean"


def laws() -> dict[str, Law]:
    """The known laws: neo-Hookean, and Mooney-Rivlin with a tenth on the second invariant (judgement).

    Returns
    -------
    dict : name to Law
    """
    return {"neo-Hookean": Law(), "Mooney-Rivlin": Law(0.1)}


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """The stress-free sheet.

    Attributes
    ----------
    triangles : (T, 3) int32
    inverse : (T, 4) float64, inverse of the matrix of both edges from the first corner, row by row, 1/mm
    area_mm2 : (T,) float64
    weight : (T,) float64, thickness before forming over the nominal one (below 1 where sag has thinned it)
    strength : (T,) float64, stiffness over the nominal one: of its thickness and its heat
    hinges : Hinges, its inner sides
    """

    triangles: NDArray[np.int32]
    inverse: NDArray[np.float64]
    area_mm2: NDArray[np.float64]
    weight: NDArray[np.float64]
    strength: NDArray[np.float64]
    hinges: Hinges


def reference(
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    *,
    flat_area_mm2: float | None = None,
    stiff: NDArray[np.float64] | float = 1.0,
) -> Reference:
    """Take a surface as free of stress.

    Parameters
    ----------
    points : (N, 2 or 3) float64, mm
    triangles : (T, 3) int32
    flat_area_mm2 : area of the flat sheet with the same volume; that of the surface by default
    stiff : (T,) float64, modulus over the nominal one

    Returns
    -------
    Reference
    """
    p = np.pad(points, ((0, 0), (0, 3 - points.shape[1])))
    u, v = p[triangles[:, 1]] - p[triangles[:, 0]], p[triangles[:, 2]] - p[triangles[:, 0]]
    length = np.sqrt((u * u).sum(1))
    along = (u * v).sum(1) / length
    across = np.sqrt(np.maximum((v * v).sum(1) - along**2, 1e-300))
    inverse = np.stack([1.0 / length, -along / (length * across), 0.0 * along, 1.0 / across], axis=1)
    area = 0.5 * length * across
    weight = np.full(len(area), 1.0 if flat_area_mm2 is None else flat_area_mm2 / float(area.sum()))
    listed = np.ascontiguousarray(triangles, np.int32)
    return Reference(listed, inverse, area, weight, weight * stiff, hinges_of(listed, inverse, area))


@kernel
def _sides(x, i, j, k):  # type: ignore[no-untyped-def]
    """Both sides of a triangle from its first corner."""
    ux, uy, uz = x[j, 0] - x[i, 0], x[j, 1] - x[i, 1], x[j, 2] - x[i, 2]
    vx, vy, vz = x[k, 0] - x[i, 0], x[k, 1] - x[i, 1], x[k, 2] - x[i, 2]
    return ux, uy, uz, vx, vy, vz


@kernel
def _images(ux, uy, uz, vx, vy, vz, inverse, t):  # type: ignore[no-untyped-def]
    """Columns of F = [u v] inverse: the images of the two axes of the flat triangle."""
    a, b, d, e = inverse[t, 0], inverse[t, 1], inverse[t, 2], inverse[t, 3]
    f1x, f1y, f1z = ux * a + vx * d, uy * a + vy * d, uz * a + vz * d
    f2x, f2y, f2z = ux * b + vx * e, uy * b + vy * e, uz * b + vz * e
    return f1x, f1y, f1z, f2x, f2y, f2z


@kernel
def _metric(f1x, f1y, f1z, f2x, f2y, f2z):  # type: ignore[no-untyped-def]
    """Entries of C = F'F."""
    c11 = f1x * f1x + f1y * f1y + f1z * f1z
    c12 = f1x * f2x + f1y * f2y + f1z * f2z
    return c11, c12, f2x * f2x + f2y * f2y + f2z * f2z


@kernel
def _principal(c11, c12, c22):  # type: ignore[no-untyped-def]
    """Eigenvalues of C, the larger first, and half their difference."""
    middle = 0.5 * (c11 + c22)
    half = 0.5 * (c11 - c22)
    radius = np.sqrt(half * half + c12 * c12)
    large = middle + radius
    small = max((c11 * c22 - c12 * c12) / large, 1e-12) if large > 0.0 else 1e-12
    return large, small, radius


@kernel
def _direction(c11, c12, c22, radius):  # type: ignore[no-untyped-def]
    """Direction of the larger eigenvalue of C."""
    half = 0.5 * (c11 - c22)
    if radius < 1e-14 * 0.5 * (c11 + c22):
        return 1.0, 0.0
    if half > 0.0:
        nx, ny = half + radius, c12
    else:
        nx, ny = c12, radius - half
    norm = np.sqrt(nx * nx + ny * ny)
    return nx / norm, ny / norm


@kernel
def _pressed_normal(ux, uy, uz, vx, vy, vz):  # type: ignore[no-untyped-def]
    """A third of the area vector that a unit pressure acts on."""
    cx, cy, cz = (uy * vz - uz * vy) / 6.0, (uz * vx - ux * vz) / 6.0, (ux * vy - uy * vx) / 6.0
    if cz < 0.0:  # the further a face leans over, the more the rest of the sheet encloses its pressed side
        lean = -cz / np.sqrt(cx * cx + cy * cy + cz * cz)
        left = min(max((_SHUT - lean) / (_SHUT - _OPEN), 0.0), 1.0)
        cx, cy, cz = left * cx, left * cy, left * cz
    return cx, cy, cz


@kernel
def _internal(x, triangles, inverse, area, weight, share, force, push, slack, pressed, begin, end):  # type: ignore[no-untyped-def]
    """Add the elastic forces, and the unit-pressure forces of every pressed triangle, to its nodes."""
    for t in range(begin, end):
        i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        ux, uy, uz, vx, vy, vz = _sides(x, i, j, k)
        a, b, d, e = inverse[t, 0], inverse[t, 1], inverse[t, 2], inverse[t, 3]
        f1x, f1y, f1z, f2x, f2y, f2z = _images(ux, uy, uz, vx, vy, vz, inverse, t)
        c11, c12, c22 = _metric(f1x, f1y, f1z, f2x, f2y, f2z)
        large, small, radius = _principal(c11, c12, c22)
        slack[t] = 0.0
        q = 1.0 / (large * small)
        if small * small * large < 1.0:  # narrower than a strip pulled lengthwise: wrinkled, tension one way
            slack[t] = slackness(large, small)
            nx, ny = _direction(c11, c12, c22, radius)
            if large > 1.0:
                stretch = np.sqrt(large)
                s = (
                    (1.0 - share) * (stretch - 1.0 / large) + share * (1.0 - 1.0 / (large * stretch))
                ) / stretch
            else:
                s = _SLACK * (1.0 - q / large)
            r = _SLACK * (1.0 - q / small)  # a force that ceased to grow would let single triangles collapse
            s11 = s * nx * nx + r * ny * ny
            s12 = (s - r) * nx * ny
            s22 = s * ny * ny + r * nx * nx
        else:
            g11, g12, g22 = c22 * q, -c12 * q, c11 * q  # inverse of C
            m = (1.0 - share) * q - share * (large * small - (large + small) * q)
            n = (1.0 - share) + share * q
            s11, s12, s22 = n - m * g11, -m * g12, n - m * g22
        w = area[t] * weight[t]
        p1x, p1y, p1z = f1x * s11 + f2x * s12, f1y * s11 + f2y * s12, f1z * s11 + f2z * s12
        p2x, p2y, p2z = f1x * s12 + f2x * s22, f1y * s12 + f2y * s22, f1z * s12 + f2z * s22
        jx, jy, jz = w * (p1x * a + p2x * b), w * (p1y * a + p2y * b), w * (p1z * a + p2z * b)
        kx, ky, kz = w * (p1x * d + p2x * e), w * (p1y * d + p2y * e), w * (p1z * d + p2z * e)
        force[j, 0] -= jx
        force[j, 1] -= jy
        force[j, 2] -= jz
        force[k, 0] -= kx
        force[k, 1] -= ky
        force[k, 2] -= kz
        force[i, 0] += jx + kx
        force[i, 1] += jy + ky
        force[i, 2] += jz + kz
        if pressed[t]:
            cx, cy, cz = _pressed_normal(ux, uy, uz, vx, vy, vz)
            for n_ in (i, j, k):
                push[n_, 0] -= cx
                push[n_, 1] -= cy
                push[n_, 2] -= cz


@kernel
def _stiffness(x, triangles, inverse, weight, share, level, upright):  # type: ignore[no-untyped-def]
    """Stiffness of each triangle against moving within the plan and across it, for the preconditioner."""
    for t in range(triangles.shape[0]):
        i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        ux, uy, uz, vx, vy, vz = _sides(x, i, j, k)
        f1x, f1y, f1z, f2x, f2y, f2z = _images(ux, uy, uz, vx, vy, vz, inverse, t)
        large, small, _ = _principal(*_metric(f1x, f1y, f1z, f2x, f2y, f2z))
        if small * small * large < 1.0:
            cube = large * np.sqrt(large)
            held = _HINGE_BOUND * HINGE * slackness(large, small)
            within = 1.0 + 2.0 / max(cube, 1.0) + 3.0 * _SLACK / (large * small * small) + held
            across = max(1.0 - 1.0 / cube, 0.0) + held
        else:
            q = 1.0 / (large * small)
            h11, h22, h12 = 3.0 * q / large, 3.0 * q / small, 2.0 * q * np.sqrt(q)
            half = 0.5 * (h11 - h22)
            within = 1.0 + 0.5 * (h11 + h22) + np.sqrt(half * half + h12 * h12)
            within *= 1.0 + share * (large - 1.0)  # an upper bound on the second invariant's part
            across = (1.0 - q / large) * (1.0 + share * (small - 1.0))
        across = min(max(across, _LEAST_SIDEWAYS), within)
        nz = ux * vy - uy * vx
        nx, ny = uy * vz - uz * vy, uz * vx - ux * vz
        square = nz * nz / max(nx * nx + ny * ny + nz * nz, 1e-300)
        upright[t] = weight[t] * (within - (within - across) * square)
        level[t] = weight[t] * (within - 0.5 * (within - across) * (1.0 - square))


@kernel
def _stretches(x, triangles, inverse, out):  # type: ignore[no-untyped-def]
    for t in range(triangles.shape[0]):
        i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        ux, uy, uz, vx, vy, vz = _sides(x, i, j, k)
        f1x, f1y, f1z, f2x, f2y, f2z = _images(ux, uy, uz, vx, vy, vz, inverse, t)
        large, small, _ = _principal(*_metric(f1x, f1y, f1z, f2x, f2y, f2z))
        out[t, 0] = np.sqrt(large)
        out[t, 1] = np.sqrt(small)


def forces(
    x: NDArray[np.float64], ref: Reference, law: Law, pressed: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Elastic force on each node, and the force of a unit pressure from above.

    Parameters
    ----------
    x : (N, 3) float64, mm
    ref, law : of the sheet
    pressed : (T,) bool, triangles that bear pressure

    Returns
    -------
    (2, N, 3) float64 : elastic, pressure
    """
    count = len(ref.triangles)
    # the cuts do not depend on the number of processors, so neither does the rounding of the sums
    cuts = [0, count // 2, count] if count >= _WORTH_THREADS else [0, count]
    parts, slack = np.zeros((len(cuts) - 1, 2, *x.shape)), np.empty(count)
    shape = ref.triangles, ref.inverse, ref.area_mm2, ref.strength

    def work(begin: int, end: int) -> None:
        for n in range(begin, end):
            _internal(x, *shape, law.share, *parts[n], slack, pressed, cuts[n], cuts[n + 1])

    in_parts(work, len(parts), least=1)
    if len(parts) == 2:
        parts[0] += parts[1]
    add_hinge_forces(x, slack, ref.hinges, parts[0, 0])
    return np.asarray(parts[0])


@kernel
def _spoilt(x, triangles, area, weight, least, most, free, turned, thin):  # type: ignore[no-untyped-def]
    over = drawn = 0
    for t in range(triangles.shape[0]):
        i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        if not (free[i] or free[j] or free[k]):
            continue
        ux, uy, uz, vx, vy, vz = _sides(x, i, j, k)
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        double = np.sqrt(nx * nx + ny * ny + nz * nz)
        if nz < least * double:
            turned[over] = t
            over += 1
        if 0.5 * double > most * weight[t] * area[t]:
            thin[drawn] = t
            drawn += 1
    return over, drawn


def spoilt(
    x: NDArray[np.float64], ref: Reference, free: NDArray[np.bool_], *, least: float, most: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Triangles with a free node that have turned over, and those that are drawn too far.

    Parameters
    ----------
    x, ref, free : (N, 3) float64, mm; stress-free sheet; (N,) bool
    least : height of the unit normal below which a triangle has turned over, < 0 (looks down)
    most : thickness before forming over the least one, > 1

    Returns
    -------
    (K,) int64, (L,) int64
    """
    turned, thin = np.empty((2, len(ref.triangles)), np.int64)
    over, drawn = _spoilt(x, ref.triangles, ref.area_mm2, ref.weight, least, most, free, turned, thin)
    return turned[:over], thin[:drawn]


def stiffness(
    x: NDArray[np.float64], ref: Reference, law: Law
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Scalar stiffness of each triangle, in modulus x thickness.

    Parameters
    ----------
    x, ref, law : (N, 3) float64, mm; stress-free sheet; its law

    Returns
    -------
    (T,) float64, (T,) float64 : against movement in plan, and in height
    """
    level, upright = np.empty(len(ref.triangles)), np.empty(len(ref.triangles))
    _stiffness(x, ref.triangles, ref.inverse, ref.strength, law.share, level, upright)
    return level, upright


def stretches(x: NDArray[np.float64], ref: Reference) -> NDArray[np.float64]:
    """Principal stretches of each triangle.

    Parameters
    ----------
    x, ref : (N, 3) float64, mm; stress-free sheet

    Returns
    -------
    (T, 2) float64, the larger first
    """
    out = np.empty((len(ref.triangles), 2))
    _stretches(x, ref.triangles, ref.inverse, out)
    return out
