"""What a forecast was asked and what it gives."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.forming.forecast.air_paths import triangle_over
from buckwright.forming.forecast.bands import Band, OtherHeat, within
from buckwright.forming.forecast.figures import Figures
from buckwright.forming.forecast.findings import SLIDING_TRUST, TRUST
from buckwright.forming.forecast.formed import Formed
from buckwright.forming.forecast.thickness import at_points
from buckwright.forming.forecast.thresholds import COUNTED_MM3, OVERLOOKED_SHARE, THIN_SHARE
from buckwright.forming.forecast.trapped_air import TrappedAir
from buckwright.forming.forecast.webs import Web

__all__ = ["Forecast", "ForecastInputs"]

_SHOWN = ("thin_mm", "weakest_mm", "mean_mm")


@dataclass(frozen=True, slots=True)
class ForecastInputs:
    """Inputs of a forecast.

    Attributes
    ----------
    sheet_mm : thickness before forming
    frame_mm : (2,) width and depth of the frame
    sag_mm : how far the hot sheet sags
    friction : Coulomb's coefficient between sheet and buck; None: it sticks
    sticks_after : share of the frame's way after which it has chilled and sticks; None: never
    rim_colder_c, heat_map : how much colder the rim is, and relative heat over the frame
    law, second_share : name of the law of the sheet, share of the second invariant in it
    pressure_per_mm : pressure difference over modulus and thickness at the end
    sharpest_radius_mm : the radius that a twofold stretched sheet keeps in a corner at that pressure
    quality : 'preview' or 'fine'
    model : 'membrane' or 'geometric'
    nodes, first_nodes : of the sheet, at the end and before anything was split
    cell_mm, finest_cell_mm : side of its triangles at first, and of the smallest ones
    vents : number of vents given; None: air leaves everywhere
    """

    sheet_mm: float
    frame_mm: tuple[float, float]
    sag_mm: float
    friction: float | None
    sticks_after: float | None
    rim_colder_c: float
    heat_map: str
    law: str
    second_share: float
    pressure_per_mm: float
    sharpest_radius_mm: float
    quality: str
    model: str
    nodes: int
    first_nodes: int
    cell_mm: float
    finest_cell_mm: float
    vents: int | None

    def to_dict(self) -> dict[str, Any]:
        """The attributes as plain values for report.json.

        Returns
        -------
        dict
        """
        return {name: getattr(self, name) for name in self.__dataclass_fields__} | {
            "frame_mm": list(self.frame_mm)
        }


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """What the sheet does.

    Attributes
    ----------
    points : (N, 3) float64, mm, the formed sheet; triangles (T, 3) int32
    flat : (N, 2) float64, mm, the same nodes in the flat sheet
    thickness_mm : (N,) float64; in a web, the mean of its folds
    contact : (N,) float64, order of contact as a share of all steps, 0 to 1; -1 in the frame, nan where the
        sheet never arrives
    gap_mm : (N,) float64, remaining gap between sheet and buck
    on_buck : (N,) bool
    webs, trapped_air : the largest first
    cells_mm : (N,) float64, length of the sheet's cells around each node
    figures : of the thickness of the part
    volume_error : relative, of the whole sheet
    overlooked_mm : how far the buck stands out between the nodes, at most: what is smaller than a cell
    height_mm : of the buck
    gap_to_frame_mm : least way from buck to frame
    settings : what was asked
    formed : the run itself
    band : what the figures may be off by; None where no coarser net was run
    half_net : the figures on that net, with cells twice as long
    other_heat : the figures under the other guess of the sheet's heat; None where it was not run
    """

    points: NDArray[np.float64]
    triangles: NDArray[np.int32]
    flat: NDArray[np.float64]
    thickness_mm: NDArray[np.float64]
    contact: NDArray[np.float64]
    gap_mm: NDArray[np.float64]
    on_buck: NDArray[np.bool_]
    webs: tuple[Web, ...]
    trapped_air: tuple[TrappedAir, ...]
    cells_mm: NDArray[np.float64]
    figures: Figures
    volume_error: float
    overlooked_mm: float
    height_mm: float
    gap_to_frame_mm: float
    settings: ForecastInputs
    formed: Formed
    band: Band | None = None
    half_net: Figures | None = None
    other_heat: OtherHeat | None = None

    @property
    def overlooks(self) -> bool:
        """Whether the buck has details that the sheet's first cells are too coarse for."""
        return self.overlooked_mm >= OVERLOOKED_SHARE * self.settings.cell_mm

    @property
    def certain_mm(self) -> float:
        """The weakest spot less its band."""
        return self.figures.weakest_mm - (0.0 if self.band is None else self.band.weakest_mm)

    @property
    def weakest_words(self) -> str:
        """Thickness of the weakest spot with its band, in words."""
        return within(self.figures.weakest_mm, None if self.band is None else self.band.weakest_mm)

    @property
    def thin_words(self) -> str:
        """What 5 % of the part is thinner than, with its band, in words."""
        return within(self.figures.thin_mm, None if self.band is None else self.band.thin_mm)

    @property
    def twice_net_mm(self) -> float | None:
        """Weakest spot to be expected with cells half as long: the error falls about as the cell.

        A finer net finds thinner places, never thicker ones; so where the coarser one came out thinner by
        chance, the figure is expected to stay. The band is that of the weakest spot.
        """
        if self.half_net is None:
            return None
        own = self.figures.weakest_mm
        return max(own - max(0.5 * (self.half_net.weakest_mm - own), 0.0), 0.0)

    @property
    def net_words(self) -> str:
        """What the weakest spot is worth on half and on twice the net; empty where no other net was run."""
        if self.half_net is None or self.twice_net_mm is None:
            return ""
        half, twice = (
            self.half_net.weakest_mm,
            within(self.twice_net_mm, None if self.band is None else self.band.weakest_mm),
        )
        how = (
            "worked out, not run"
            if self.settings.quality == "fine"
            else "worked out, a fine forecast runs it"
        )
        return f"{half:.2f} mm on half the net (run), {twice} on twice the net ({how})"

    @property
    def heat_words(self) -> str:
        """What the sheet's heat, which nobody knows, adds; empty where no other heat was run."""
        other = self.other_heat
        if other is None:
            return ""
        thin = f"{THIN_SHARE:.0%} thinner than {other.thin_mm:.2f} mm"
        return f"{other.weakest_mm:.2f} mm and {thin} if the sheet is {other.words}"

    @property
    def counted_air(self) -> tuple[TrappedAir, ...]:
        """The pools of air that are large enough to be counted, the largest first."""
        return tuple(pool for pool in self.trapped_air if pool.volume_mm3 >= COUNTED_MM3)

    @property
    def trust(self) -> str:
        """How far the forecast can be trusted, in words."""
        return TRUST if self.settings.friction is None else SLIDING_TRUST

    def at(
        self, places: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Thickness, order of contact and remaining gap at points on the buck.

        Parameters
        ----------
        places : (M, 3) float64, mm

        Returns
        -------
        thickness (M,) mm, order of contact (M,) 0 to 1 (1 where the sheet never arrives), distance to the
        sheet (M,) mm
        """
        order = np.clip(np.where(np.isnan(self.contact), 1.0, self.contact), 0.0, 1.0)
        asked = np.asarray(places, np.float64)
        thick, when, off = at_points(asked, self.points, self.triangles, self.thickness_mm, order)
        return thick, when, off

    def cells_at(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Length of the sheet's cells over points on the buck.

        Parameters
        ----------
        places : (M, 3) float64, mm

        Returns
        -------
        (M,) float64, mm
        """
        asked = np.asarray(places, np.float64)
        return at_points(asked, self.points, self.triangles, self.cells_mm)[0]

    def thickness_at(self, places: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Thickness and remaining gap at points on the buck.

        Parameters
        ----------
        places : (M, 3) float64, mm

        Returns
        -------
        thickness (M,) and distance to the sheet (M,), float64, mm
        """
        thick, _, off = self.at(places)
        return thick, off

    def trapped_air_over(self, places: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether each pool of trapped air lay over each point of the plan.

        Parameters
        ----------
        places : (M, 2 or more) float64, mm

        Returns
        -------
        (pools, M) bool
        """
        asked = np.asarray(places, np.float64)[:, :2]
        over = triangle_over(asked, self.points, self.triangles)
        corners = np.where(over[:, None] >= 0, self.triangles[over], -1)
        held = [np.isin(corners, pool.region).any(1) for pool in self.trapped_air]
        return np.array(held, np.bool_).reshape(len(self.trapped_air), len(asked))

    def to_dict(self) -> dict[str, Any]:
        """The forecast section of report.json.

        Returns
        -------
        dict
        """
        told = self.figures.to_dict()
        told["weakest"]["share"] = self.figures.weakest_mm / self.settings.sheet_mm
        for name in ("thin", "weakest"):
            told[name]["band_mm"] = None if self.band is None else getattr(self.band, f"{name}_mm")
        told["mean_band_mm"] = None if self.band is None else self.band.mean_mm
        told["twice_net_weakest_mm"] = self.twice_net_mm
        told["twice_net_band_mm"] = told["weakest"]["band_mm"]
        told["half_net"] = None if self.half_net is None else {n: getattr(self.half_net, n) for n in _SHOWN}
        told["other_heat"] = None if self.other_heat is None else self.other_heat.to_dict()
        return told | {
            "volume_error": self.volume_error,
            "trapped_air": [pool.to_dict() for pool in self.counted_air],
            "webs": [web.to_dict() for web in self.webs],
            "overlooked_mm": self.overlooked_mm,
            "loads_without_rest": self.formed.forced,
            "stopped": self.formed.stopped,
            "nodes": self.settings.nodes,
            "settings": self.settings.to_dict(),
            "trust": self.trust,
        }
