"""Flat plates under an even pressure: stress and deflection by handbook formulas.

Small deflections of thin plates that bend elastically. The skin of a print bulges and carries part of the
load as a membrane, so the stresses err on the high side; the weakness between layers is in the strength that
they are compared with.
"""

import numpy as np

__all__ = [
    "clamped_disc",
    "clamped_rectangle",
    "least_thickness_mm",
    "supported_disc",
    "supported_rectangle",
    "widest_panel_mm",
]

# Roark's Formulas for Stress and Strain, table 11.4, case 8a (all edges fixed) and 1a (all edges simply
# supported), Poisson's ratio 0.3: side ratio, coefficient of stress, coefficient of deflection.
_CLAMPED = np.array(
    [
        (1.0, 0.3078, 0.0138),
        (1.2, 0.3834, 0.0188),
        (1.4, 0.4356, 0.0226),
        (1.6, 0.4680, 0.0251),
        (1.8, 0.4872, 0.0267),
        (2.0, 0.4974, 0.0277),
        (1e9, 0.5000, 0.0284),
    ]
)
_SUPPORTED = np.array(
    [
        (1.0, 0.2874, 0.0444),
        (1.2, 0.3762, 0.0616),
        (1.4, 0.4530, 0.0770),
        (1.6, 0.5172, 0.0906),
        (1.8, 0.5688, 0.1017),
        (2.0, 0.6102, 0.1110),
        (3.0, 0.7134, 0.1335),
        (4.0, 0.7410, 0.1400),
        (5.0, 0.7476, 0.1417),
        (1e9, 0.7500, 0.1421),
    ]
)


def clamped_rectangle(
    pressure_mpa: float, long_mm: float, short_mm: float, thickness_mm: float, modulus_mpa: float
) -> tuple[float, float]:
    """Greatest stress (middle of the long edge) and deflection (centre) of a plate clamped all around.

    Parameters
    ----------
    pressure_mpa : even pressure
    long_mm, short_mm, thickness_mm : the plate
    modulus_mpa : Young's modulus

    Returns
    -------
    float, float : stress in MPa, deflection in mm

    References
    ----------
    Roark's Formulas for Stress and Strain, table 11.4, case 8a, between its rows by the ratio short to long.

    Examples
    --------
    >>> stress, deflection = clamped_rectangle(0.101325, 100.0, 100.0, 5.0, 2500.0)
    >>> round(stress, 3), round(deflection, 4)
    (12.475, 0.4475)
    """
    return _rectangle(_CLAMPED, pressure_mpa, long_mm, short_mm, thickness_mm, modulus_mpa)


def supported_rectangle(
    pressure_mpa: float, long_mm: float, short_mm: float, thickness_mm: float, modulus_mpa: float
) -> tuple[float, float]:
    """As `clamped_rectangle`, for edges that rest and may turn: greatest stress at the centre.

    References
    ----------
    Roark's Formulas for Stress and Strain, table 11.4, case 1a.
    """
    return _rectangle(_SUPPORTED, pressure_mpa, long_mm, short_mm, thickness_mm, modulus_mpa)


def clamped_disc(
    pressure_mpa: float, radius_mm: float, thickness_mm: float, modulus_mpa: float, poisson: float = 0.35
) -> tuple[float, float, float]:
    """Stress at the edge and at the centre, and deflection at the centre, of a disc clamped at its edge.

    Parameters
    ----------
    pressure_mpa, radius_mm, thickness_mm, modulus_mpa : load and disc
    poisson : Poisson's ratio

    Returns
    -------
    float, float, float : MPa, MPa, mm

    References
    ----------
    w = q a^4 / 64 D (Chen, Civil Engineering Handbook, eq. 47.72); stresses 3 q a^2 / 4 t^2 and
    3 (1 + nu) q a^2 / 8 t^2 (Boresi & Schmidt, Advanced Mechanics of Materials, ch. 13).
    """
    load = pressure_mpa * (radius_mm / thickness_mm) ** 2
    rigidity = modulus_mpa * thickness_mm**3 / (12.0 * (1.0 - poisson**2))
    bent = pressure_mpa * radius_mm**4 / (64.0 * rigidity)
    return 0.75 * load, 0.375 * (1.0 + poisson) * load, bent


def supported_disc(
    pressure_mpa: float, radius_mm: float, thickness_mm: float, modulus_mpa: float, poisson: float = 0.35
) -> tuple[float, float]:
    """Stress and deflection at the centre of a disc whose edge rests and may turn.

    References
    ----------
    sigma = 3 (3 + nu) q a^2 / 8 t^2, w = (5 + nu) / (1 + nu) times that of the clamped disc (Timoshenko).
    """
    load = pressure_mpa * (radius_mm / thickness_mm) ** 2
    bent = clamped_disc(pressure_mpa, radius_mm, thickness_mm, modulus_mpa, poisson)[2]
    return 0.375 * (3.0 + poisson) * load, (5.0 + poisson) / (1.0 + poisson) * bent


def least_thickness_mm(
    pressure_mpa: float, panel_mm: float, allowed_mpa: float, modulus_mpa: float, most_bend_mm: float
) -> float:
    """Thickness from which a clamped square panel neither exceeds a stress nor bends too far.

    Parameters
    ----------
    pressure_mpa, panel_mm : load, and side of the panel
    allowed_mpa, modulus_mpa : of the material
    most_bend_mm : deflection that is allowed

    Returns
    -------
    float : mm
    """
    _, stress, bend = _CLAMPED[0]
    by_stress = panel_mm * np.sqrt(stress * pressure_mpa / allowed_mpa)
    by_bend = (bend * pressure_mpa * panel_mm**4 / (modulus_mpa * most_bend_mm)) ** (1.0 / 3.0)
    return float(max(by_stress, by_bend))


def widest_panel_mm(
    pressure_mpa: float, thickness_mm: float, allowed_mpa: float, modulus_mpa: float, most_bend_mm: float
) -> float:
    """Side of the widest clamped square panel that a skin bears: the inverse of `least_thickness_mm`.

    Parameters
    ----------
    pressure_mpa, thickness_mm : load, and skin
    allowed_mpa, modulus_mpa : of the material
    most_bend_mm : deflection that is allowed

    Returns
    -------
    float : mm, between ribs or lines of infill
    """
    _, stress, bend = _CLAMPED[0]
    by_stress = thickness_mm * np.sqrt(allowed_mpa / (stress * pressure_mpa))
    by_bend = (most_bend_mm * modulus_mpa * thickness_mm**3 / (bend * pressure_mpa)) ** 0.25
    return float(min(by_stress, by_bend))


def _rectangle(
    table: np.ndarray, pressure: float, long: float, short: float, thickness: float, modulus: float
) -> tuple[float, float]:
    long, short = max(long, short), min(long, short)
    slim = -short / long  # rising, so that an endless plate is at 0
    stress, bend = (float(np.interp(slim, -1.0 / table[:, 0], table[:, k])) for k in (1, 2))
    return (
        stress * pressure * (short / thickness) ** 2,
        bend * pressure * short**4 / (modulus * thickness**3),
    )
