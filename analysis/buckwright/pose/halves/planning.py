"""The planes to choose from, the one that is taken, and what becomes of both halves."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buckwright.clock import Clock
from buckwright.errors import InputError
from buckwright.findings import counted
from buckwright.forming.sheets.table import SheetMaterial
from buckwright.mesh.manifolds import from_manifold
from buckwright.mesh.triangles import Mesh
from buckwright.pose.aiming import AXIS_VECTORS
from buckwright.pose.entering import EnteredSculpt, whole_solid
from buckwright.pose.halves.cutting import Half, Seam, halved
from buckwright.pose.halves.images import plane_images
from buckwright.pose.halves.inserts import Insert, inserts_for
from buckwright.pose.halves.search import (
    PartingPlane,
    find_planes,
    hidden_in_one_piece,
    planes_across,
)
from buckwright.pose.halves.settings import HalvesSettings
from buckwright.pose.halves.shells import closed_inside
from buckwright.pose.setups.proxy import Proxy, proxy_of
from buckwright.survey.surveying import Surveyed, survey

__all__ = ["Halves", "halve"]


@dataclass(frozen=True, slots=True, eq=False)
class Halves:
    """A sculpt in two.

    Attributes
    ----------
    planes : to choose from, the best first
    taken : number of the one that was taken, from 1
    halves : the first lies on the side of the plane's normal
    surveys : of both as they stand
    seam : where they meet
    volume_mm3 : of the whole sculpt, with the inside of a shell
    inside_mm3 : of the inside of a shell that was closed; 0 where there is none
    whole_hidden_share : share of detail that a good setup in one piece hides
    shape : the sculpt, simplified, for pictures
    images : (N, 256, 256, 4) uint8, a small picture of each plane, see `plane_images`
    arrived : the sculpt as it came through the door
    """

    planes: tuple[PartingPlane, ...]
    taken: int
    halves: tuple[Half, Half]
    surveys: tuple[Surveyed, Surveyed]
    seam: Seam
    volume_mm3: float
    inside_mm3: float
    whole_hidden_share: float
    shape: Mesh
    images: NDArray[np.uint8]
    arrived: EnteredSculpt

    def inserts_of(self, name: str) -> tuple[Insert, ...]:
        """Deep places of a half, 'A' or 'B', that could be freed by themselves."""
        number = "AB".index(name)
        return inserts_for(self.halves[number].mesh, self.surveys[number])

    @property
    def plane(self) -> PartingPlane:
        """The plane that was taken."""
        return self.planes[self.taken - 1]

    def to_dict(self) -> dict[str, Any]:
        """The section `halves` of report.json."""
        return {
            "planes": [
                {"number": number, "taken": number == self.taken} | plane.to_dict()
                for number, plane in enumerate(self.planes, 1)
            ],
            "seam": {
                "length_mm": self.seam.length_mm,
                "area_mm2": self.seam.area_mm2,
                "overlap_mm": self.seam.overlap_mm,
                "step_mm": self.seam.step_mm,
                "keys": self.seam.keys,
            },
            "parts": [
                {
                    "matrix": half.matrix,
                    "volume_mm3": half.plain_volume_mm3,
                    "size_mm": half.mesh.size,
                    "bodies": half.bodies,
                    "locked": surveyed.release.locked,
                    "sideways_mm": surveyed.release.widest_mm,
                }
                for half, surveyed in zip(self.halves, self.surveys, strict=True)
            ],
            "inside_mm3": self.inside_mm3,
            "whole_hidden_share": self.whole_hidden_share,
        }


def halve(
    arrived: EnteredSculpt,
    settings: HalvesSettings,
    *,
    material: SheetMaterial,
    sheet_mm: float,
    draft_deg: float,
    clock: Clock,
) -> Halves:
    """Find planes, take one, and cut.

    Parameters
    ----------
    arrived : the checked sculpt
    settings : of the job
    material, sheet_mm : the sheet
    draft_deg : wanted draft
    clock : steps are told to it

    Raises
    ------
    InputError
        There is no plane of that number, or it does not cut the sculpt.
    MeshError
        The sculpt cannot be made into a solid.
    Cancelled
        The user asked to stop.
    """
    with clock.step("looking for planes"):
        sculpt = whole_solid(arrived)
        solid = closed_inside(sculpt)
        as_it_came = solid is arrived.entered.body
        mesh = arrived.entered.mesh if as_it_came else from_manifold(solid)
        proxy = proxy_of(mesh)
        planes = _planes(mesh, proxy, settings, draft_deg=draft_deg, clock=clock)
        whole = hidden_in_one_piece(proxy, draft_deg=draft_deg)
    plane = _taken(planes, settings.plane)
    with clock.step("cutting in two"):
        first, second, seam = halved(
            solid,
            np.array(plane.normal),
            plane.offset_mm,
            overlap_mm=settings.overlap_mm,
            key_mm=settings.key_mm,
            sheet_mm=sheet_mm,
        )
    with clock.step("surveying the halves"):
        one, other = (
            survey(half.mesh, wanted_deg=draft_deg, sheet_mm=sheet_mm, allowable=material.strain)
            for half in (first, second)
        )
    shape = Mesh(np.ascontiguousarray(proxy.shade.vertices @ proxy.turn), proxy.shade.faces)
    return Halves(
        planes,
        settings.plane,
        (first, second),
        (one, other),
        seam,
        float(solid.volume()),
        float(solid.volume() - sculpt.volume()),
        whole,
        shape,
        plane_images(shape, planes),
        arrived,
    )


def _planes(
    mesh: Mesh, proxy: Proxy, settings: HalvesSettings, *, draft_deg: float, clock: Clock
) -> tuple[PartingPlane, ...]:
    if settings.normal == "search":
        if settings.offset_mm is not None:
            raise InputError(
                "an offset without a direction says nothing: set halves.normal too, or leave the offset out"
            )
        return find_planes(mesh, draft_deg=draft_deg, proxy=proxy, tick=clock.tick)
    normal: NDArray[np.float64] = np.array(
        AXIS_VECTORS[settings.normal] if isinstance(settings.normal, str) else settings.normal, np.float64
    )
    return planes_across(mesh, normal, settings.offset_mm, draft_deg=draft_deg, proxy=proxy)


def _taken(planes: tuple[PartingPlane, ...], number: int) -> PartingPlane:
    if not planes:
        raise InputError("no plane was found that halves the sculpt; it is too thin everywhere")
    if number > len(planes):
        there = f"there {'is' if len(planes) == 1 else 'are'} only {counted(len(planes), 'plane')}"
        raise InputError(f"there is no plane {number}: {there}; set halves.plane back to 1")
    return planes[number - 1]
