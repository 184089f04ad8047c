"""What the job sheet says of the machine."""

from collections.abc import Mapping
from typing import Any

__all__ = ["machine_rows"]


def machine_rows(report: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Rows of label and words; none where no machine is known.

    Parameters
    ----------
    report : plain values, as report.json holds them

    Returns
    -------
    list of label and words
    """
    machine = report.get("machine")
    if not machine:
        return _zones(report)
    fit = machine["fit"]
    rows = [("Machine", machine["title"])]
    if fit["most_mm"] is not None:
        dead = f", {fit['dead_mm']:.1f} mm of it dead height" if fit["dead_mm"] else ""
        rows.append(("Height", f"{fit['height_mm']:.1f} mm{dead}; the machine takes {fit['most_mm']:g} mm"))
    if fit["sag_room_mm"] is not None:
        rows.append(("Sag", f"up to {fit['sag_mm']:.0f} mm; room for {fit['sag_room_mm']:g} mm"))
    return [*rows, *_zones(report), *_vacuum(machine["vacuum"]), *_holes(machine["holes"])]


def _zones(report: Mapping[str, Any]) -> list[tuple[str, str]]:
    zones = report.get("heater_zones")
    if not zones:
        return []
    table = "; ".join(" ".join(f"{value:.0f}" for value in row) for row in zones["mean_c"])
    words = f"°C of the sheet from back to front after {zones['after_s']:.0f} s: {table}"
    return [("Heater zones", words)]


def _vacuum(vacuum: Mapping[str, Any] | None) -> list[tuple[str, str]]:
    if vacuum is None:
        return []
    air = f"{vacuum['box_l'] + vacuum['under_sheet_l']:.1f} l of air in box and under the sheet"
    if vacuum["shared_kpa"] is not None:
        words = f"{air}; shared with the tank {vacuum['shared_kpa']:.1f} kPa"
        again = vacuum["tank_s"]
        words += f", the tank ready again after {again:.0f} s" if again is not None else ""
    elif vacuum["evacuate_s"] is not None:
        words = f"{air}; {vacuum['evacuate_s']:.1f} s down to {vacuum['target_kpa']:.0f} kPa"
    else:
        words = f"{air}; never down to {vacuum['target_kpa']:.0f} kPa"
    return [("Vacuum", words), ("Force on the base", f"{vacuum['force_n']:.0f} N")]


def _holes(holes: Mapping[str, Any] | None) -> list[tuple[str, str]]:
    if holes is None:
        return []
    how = "under the mask plate" if holes["mask_plate"] else "to mask"
    return [
        (
            "Holes of the platen",
            f"{holes['to_mask']} of {holes['count']} {how}; "
            f"{holes['vents_reaching']} of {holes['vents']} vents reach an open one",
        )
    ]
