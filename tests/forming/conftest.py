"""A second, independent way to a round sheet: one row of rings, exact Newton steps from contact to contact.

Nothing is shared with the library: other elements (rings), another solver (the true tangent, bordered by the
load as an unknown), other steps (each ends exactly where the next node touches).
"""

from dataclasses import dataclass, field

import numpy as np
import pytest
from scipy.linalg import solve_banded


@dataclass
class Press:
    """A round sheet over a void or a buck given by `gap(r, z)`, positive where the sheet may be."""

    radius: float
    rings: int
    gap: object
    share: float = 0.0  # of the second invariant
    relaxed: bool = False  # no push round the ring where it is narrower than a strip pulled lengthwise
    order: list = field(default_factory=list)

    def __post_init__(self):
        self.R = np.linspace(0, self.radius, self.rings + 1)
        self.r, self.z, self.p = self.R.copy(), np.zeros(self.rings + 1), 0.0
        self.fixed = np.zeros(self.rings + 1, bool)
        self.fixed[-1] = True

    def sunk(self):
        """A first guess for the pressed sheet, which is soft while it is flat."""
        self.z -= 0.1 * (1.0 - (self.R / self.radius) ** 2) * self.radius
        return self

    def hung(self, slope=0.1):
        """The pole lies on the top of a buck at z = 0, the frame a little lower."""
        self.fixed[0] = True
        self.z -= slope * self.R
        assert self.balance()
        return self

    def thickness(self):
        """At the middle of each ring: radius in the flat sheet, and t / t0."""
        along = np.hypot(np.diff(self.r), np.diff(self.z)) / np.diff(self.R)
        hoop = (self.r[1:] + self.r[:-1]) / (self.R[1:] + self.R[:-1])
        return 0.5 * (self.R[1:] + self.R[:-1]), 1.0 / (along * hoop)

    def _system(self):
        """Elastic gradient, banded tangent with the load, and the force of a unit pressure from above."""
        R, r, z = self.R, self.r, self.z
        n, dS, area = len(R), np.diff(R), np.pi * np.diff(R**2)
        dr, dz = np.diff(r), np.diff(z)
        length = np.hypot(dr, dz)
        a, h = length / dS, (r[1:] + r[:-1]) / (R[1:] + R[:-1])
        k1, k2 = 1.0 - self.share, self.share
        # W = 1/2 (k1 (a^2 + h^2 + 1/(a h)^2) + k2 (1/a^2 + 1/h^2 + (a h)^2))
        Wa = k1 * (a - a**-3 * h**-2) + k2 * (a * h**2 - a**-3)
        Wh = k1 * (h - h**-3 * a**-2) + k2 * (h * a**2 - h**-3)
        Waa = k1 * (1 + 3 * a**-4 * h**-2) + k2 * (h**2 + 3 * a**-4)
        Whh = k1 * (1 + 3 * h**-4 * a**-2) + k2 * (a**2 + 3 * h**-4)
        Wah = 2 * k1 * a**-3 * h**-3 + 2 * k2 * a * h
        if self.relaxed:  # tension field of a neo-Hookean sheet
            taut = a * h * h >= 1.0
            Wa, Waa = np.where(taut, Wa, a - a**-2), np.where(taut, Waa, 1 + 2 * a**-3)
            Wh, Whh, Wah = (np.where(taut, w, 0.0) for w in (Wh, Whh, Wah))
        ga = np.stack([-dr, -dz, dr, dz]) / (length * dS)
        one = 1.0 / (R[1:] + R[:-1])
        gh = np.stack([one, 0 * one, one, 0 * one])
        t = np.stack([dr, dz]) / length
        bend = (np.eye(2)[:, :, None] - t[:, None] * t[None]) / (length * dS)
        sign = np.array([[1, -1], [-1, 1]])
        K = area * (
            Waa * ga[:, None] * ga[None]
            + Whh * gh[:, None] * gh[None]
            + Wah * (ga[:, None] * gh[None] + gh[:, None] * ga[None])
            + Wa * np.kron(sign, np.ones((2, 2)))[:, :, None] * np.tile(bend, (2, 2, 1))
        )
        # the volume between sheet and frame plane is a sum of s (z1 - z2), s = pi/3 (r1^2 + r1 r2 + r2^2)
        s = np.pi / 3 * (r[:-1] ** 2 + r[:-1] * r[1:] + r[1:] ** 2)
        s1, s2 = np.pi / 3 * (2 * r[:-1] + r[1:]), np.pi / 3 * (2 * r[1:] + r[:-1])
        push = np.stack([-s1 * dz, s, -s2 * dz, -s])
        zero = 0 * s
        V = np.array(
            [
                [-2 * np.pi / 3 * dz, s1, -np.pi / 3 * dz, -s1],
                [s1, zero, s2, zero],
                [-np.pi / 3 * dz, s2, -2 * np.pi / 3 * dz, -s2],
                [-s1, zero, -s2, zero],
            ]
        )
        g = area * (Wa * ga + Wh * gh)
        grad, unit, band = np.zeros(2 * n), np.zeros(2 * n), np.zeros((7, 2 * n))
        place = 2 * np.arange(n - 1)
        for i in range(4):
            np.add.at(grad, place + i, g[i])
            np.add.at(unit, place + i, push[i])
            for j in range(4):
                np.add.at(band[3 + i - j], place + j, K[i, j] + self.p * V[i, j])
        return grad, band, unit

    def balance(self, *, node=None, lowering=False, tries=30):
        """Equilibrium; with a node, at the load (pressure, or height of the frame) at which it touches."""
        kept = self.r.copy(), self.z.copy(), self.p
        held = np.repeat(self.fixed, 2)
        held[0] = True
        at = np.flatnonzero(held)
        for _ in range(tries):
            grad, band, unit = self._system()
            rate = unit.copy()
            if lowering:
                last = len(rate) - 1
                rate = np.zeros(len(unit))
                rate[last - 3 :] = [band[3 + i - last, last] for i in range(last - 3, last + 1)]
            right = -np.stack([grad + self.p * unit, rate], axis=1)
            right[at] = 0.0
            for k in range(7):
                column = at + 3 - k  # the entries in the row of a held coordinate
                inside = (column >= 0) & (column < len(unit))
                band[k, column[inside]] = 0.0
                band[k, at] = 0.0
            band[3, at] = 1.0
            step = solve_banded((3, 3), band, right)
            load = self._load_for(node, step) if node is not None else 0.0
            move = step[:, 0] + load * step[:, 1]
            size = np.abs(move).max()
            if not np.isfinite(size):
                break
            slow = min(1.0, 0.1 * self.radius / max(size, 1e-300))
            self.r += slow * move[0::2]
            self.z += slow * move[1::2]
            if lowering:
                self.z[-1] += slow * load
            else:
                self.p += slow * load
            if size < 1e-9 * self.radius:
                return True
        self.r, self.z, self.p = kept
        return False

    def _load_for(self, node, step):
        r, z, e = self.r[node], self.z[node], 1e-7 * self.radius
        normal = np.array(
            [self.gap(r + e, z) - self.gap(r - e, z), self.gap(r, z + e) - self.gap(r, z - e)]
        ) / (2 * e)
        now, more = normal @ step[2 * node : 2 * node + 2]
        return -(self.gap(r, z) + now) / more

    def press(self, *, lowering=False, until=np.inf):
        """Go from contact to contact until the load is reached."""
        while not self.fixed.all():
            kept = self.r.copy(), self.z.copy(), self.p
            free = np.flatnonzero(~self.fixed)
            best = free[np.argmin(self.gap(self.r[free], self.z[free]))]
            tried = set()
            while best not in tried:
                tried.add(best)
                self.r, self.z, self.p = kept[0].copy(), kept[1].copy(), kept[2]
                assert self.balance(node=best, lowering=lowering), f"no equilibrium when node {best} touches"
                gaps = self.gap(self.r[free], self.z[free])
                if gaps.min() > -1e-6 * self.radius:
                    break
                best = free[np.argmin(gaps)]
            if (-self.z[-1] if lowering else self.p) > until:
                self.r, self.z, self.p = kept
                break
            self.fixed[best] = True
            self.order.append(int(best))
        return self


@pytest.fixture
def press():
    return Press
