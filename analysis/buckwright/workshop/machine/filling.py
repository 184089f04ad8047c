"""What a machine gives for settings that were left out, in its own table and in others."""

from collections.abc import Mapping
from typing import Any

import attrs

from buckwright.workshop.machine.figures import MachineFigures, MachineProfile
from buckwright.workshop.machine.own import machine
from buckwright.workshop.machine.vacuum import ATMOSPHERE_KPA, left_in_pocket, vacuum_of

__all__ = ["filled", "gifts", "left_out"]

# Thin-gauge sheet takes up 40 to 60 % of what the heater draws: Throne, Thermoforming, table 3.1 (read).
_TAKEN_UP = 0.5
_MOST_PLENUM_KPA = 95.0  # as much as the setting takes
_FIGURES = tuple(one.name for one in attrs.fields(MachineFigures))


def left_out(tables: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Values that the machine gives.

    Parameters
    ----------
    tables : all tables of a job by name

    Returns
    -------
    dict : values by table and key, of settings that are left out and that the machine knows

    Raises
    ------
    JobError
        The machine is not known, or what is set contradicts what it is.
    """
    own = tables["machine"]
    if own == type(own)():
        return {}
    profile = MachineProfile() if own.profile is None else machine(own.profile)
    given: dict[str, dict[str, Any]] = {}
    for name, value in gifts(filled(own, profile), profile).items():
        table, _, key = name.partition(".")
        if getattr(tables[table], key) in (None, ""):
            given.setdefault(table, {})[key] = value
    return given


def gifts(figures: MachineFigures, profile: MachineProfile) -> dict[str, Any]:
    """What a machine gives for settings that are left out.

    Parameters
    ----------
    figures : as they count
    profile : of the machine

    Returns
    -------
    dict : values by 'table.key'; what is not known is left out
    """
    given = {
        **{f"machine.{key}": getattr(figures, key) for key in _FIGURES},
        "base.platen_mm": profile.platen_mm,
        "rig.grip_mm": profile.grip_mm,
        "rig.owned": profile.owned,
        "heating.sides": profile.sides,
        "forecast.rim_colder_c": profile.rim_colder_c,
        "forecast.heat_map": profile.heat_map,
        "heating.flux_kw_m2": None if figures.heater_kw_m2 is None else _TAKEN_UP * figures.heater_kw_m2,
    }
    vacuum = vacuum_of(figures)
    if vacuum is not None:
        plenum = min(vacuum.holds_kpa, _MOST_PLENUM_KPA)
        given["vents.plenum_kpa"] = plenum
        given["vents.target_share"] = left_in_pocket(plenum / ATMOSPHERE_KPA)
    return {name: value for name, value in given.items() if value not in (None, "")}


def filled(own: MachineFigures, profile: MachineProfile) -> MachineFigures:
    """The figures that are set, else those of the profile.

    Parameters
    ----------
    own : as the job has them
    profile : of the machine

    Returns
    -------
    MachineFigures

    Raises
    ------
    JobError
        They contradict each other.
    """
    chosen = {
        key: getattr(profile, key) if getattr(own, key) in (None, "") else getattr(own, key)
        for key in _FIGURES
    }
    return MachineFigures(**chosen)
