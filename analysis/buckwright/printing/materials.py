"""What bucks are printed of: density, stiffness, strength and softening, each with its source."""

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["PRINT_MATERIALS", "PrintMaterial"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintMaterial:
    """A material of prints.

    Attributes
    ----------
    title, tip : for people
    density_kg_m3 : of the solid plastic
    modulus_mpa : (least, most) stiffness at room temperature, of a print
    strength_mpa : (least, most) stress at which a print yields or parts between layers
    softens_c : (least, most) temperature up to which it bears a load: the heat deflection temperature at
        0.45 MPa, of amorphous plastics no more than the glass transition
    conductivity_w_mk, heat_kj_kgk : heat conduction and capacity of the solid plastic
    source : of `softens_c`; the other figures are from memory, usual values less what layers cost
    """

    title: str
    tip: str
    density_kg_m3: float
    modulus_mpa: tuple[float, float]
    strength_mpa: tuple[float, float]
    softens_c: tuple[float, float]
    conductivity_w_mk: float = 0.2
    heat_kj_kgk: float = 1.6
    source: str = "envelope of datasheets, filament-db wiki, appendix A.1: they vary by 10 to 25 % (read)"


_MEMORY = "from memory"

PRINT_MATERIALS: Mapping[str, PrintMaterial] = {
    "PLA": PrintMaterial(
        title="PLA",
        tip="Stiff and easy to print; softens early",
        density_kg_m3=1240,
        modulus_mpa=(2200, 3500),
        strength_mpa=(25, 50),
        softens_c=(55, 60),
        conductivity_w_mk=0.13,
        heat_kj_kgk=1.8,
    ),
    "PETG": PrintMaterial(
        title="PETG",
        tip="Tough, bears a little more heat than PLA",
        density_kg_m3=1270,
        modulus_mpa=(1500, 2100),
        strength_mpa=(20, 45),
        softens_c=(70, 75),
        heat_kj_kgk=1.3,
    ),
    "ABS": PrintMaterial(
        title="ABS",
        tip="Bears heat; warps on large beds",
        density_kg_m3=1040,
        modulus_mpa=(1500, 2300),
        strength_mpa=(18, 38),
        softens_c=(90, 98),
        conductivity_w_mk=0.17,
        heat_kj_kgk=1.4,
    ),
    "ASA": PrintMaterial(
        title="ASA",
        tip="As ABS, and bears the weather",
        density_kg_m3=1070,
        modulus_mpa=(1500, 2300),
        strength_mpa=(18, 38),
        softens_c=(90, 98),
        conductivity_w_mk=0.17,
        heat_kj_kgk=1.4,
    ),
    "HIPS": PrintMaterial(
        title="HIPS",
        tip="Light and easy to sand; the same plastic as much of the sheet, so use a release",
        density_kg_m3=1040,
        modulus_mpa=(1300, 2000),
        strength_mpa=(12, 25),
        softens_c=(85, 85),
        conductivity_w_mk=0.17,
        heat_kj_kgk=1.4,
    ),
    "PC": PrintMaterial(
        title="PC",
        tip="Bears the most heat of common filaments; hard to print",
        density_kg_m3=1200,
        modulus_mpa=(1800, 2400),
        strength_mpa=(30, 60),
        softens_c=(125, 140),
        heat_kj_kgk=1.2,
        source=_MEMORY,
    ),
    "PP": PrintMaterial(
        title="PP",
        tip="Nothing sticks to it; flexible, warps",
        density_kg_m3=900,
        modulus_mpa=(700, 1300),
        strength_mpa=(12, 25),
        softens_c=(85, 100),
        heat_kj_kgk=1.8,
    ),
    "PA12": PrintMaterial(
        title="PA12",
        tip="Tough, bears heat, slightly flexible",
        density_kg_m3=1010,
        modulus_mpa=(1200, 1800),
        strength_mpa=(25, 45),
        softens_c=(140, 150),
        conductivity_w_mk=0.24,
        heat_kj_kgk=1.7,
    ),
    "resin": PrintMaterial(
        title="Resin",
        tip="Ordinary photopolymer resin",
        density_kg_m3=1180,
        modulus_mpa=(1500, 2800),
        strength_mpa=(25, 60),
        softens_c=(50, 75),
        source=_MEMORY,
    ),
    "hot_resin": PrintMaterial(
        title="High-Temperature Resin",
        tip="Photopolymer resin made to bear heat, cured as its maker says",
        density_kg_m3=1200,
        modulus_mpa=(2400, 3200),
        strength_mpa=(25, 50),
        softens_c=(200, 238),
        source="resin maker's page: 238 at 0.45 MPa (read); the lower end is from memory",
    ),
}
"""By the word that job files use."""
