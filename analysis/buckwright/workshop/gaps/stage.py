"""The stage that sets openings side by side, where several were forecast."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from buckwright.stage import Papers, Stage, Told

if TYPE_CHECKING:
    from buckwright.clock import Clock
    from buckwright.forming.forecast.buck_forecast import BuckForecast
    from buckwright.workshop.cutting.settings import StockSettings
    from buckwright.workshop.gaps.weighing import Weighed

__all__ = ["GAPS"]


def _weigh(
    formed: "BuckForecast | None", stock: "StockSettings", grip_mm: float | None, clock: "Clock"
) -> "Weighed | None":
    """None where no gaps were compared."""
    from buckwright.workshop.gaps.weighing import read_forecast, weigh
    from buckwright.workshop.rig.settings import RigSettings

    if formed is None or not formed.gaps:
        return None
    clock.ask()
    grip = RigSettings(grip_mm=grip_mm).clamped_mm
    return weigh([read_forecast(row) for row in formed.gaps], stock, grip_mm=grip)


def _sections(weighed: "Weighed", _told: Told) -> Mapping[str, Any]:
    return {"gaps": weighed.to_dict()}


def _facts(weighed: "Weighed", _told: Told) -> list[str]:
    lines = []
    for n, row in enumerate(weighed.rows):
        cost = "" if row.cost_per_part is None else f", {row.cost_per_part:.2f} a part"
        mark = " <- chosen" if n == weighed.chosen else ""
        lines.append(
            f"Gap {row.gap_mm:.0f} mm: thin {row.thin_mm:.2f} mm, mean {row.mean_mm:.2f} mm, "
            f"webs {row.web_mm:.0f} mm, blank {row.blank_mm[0]:.0f} x {row.blank_mm[1]:.0f} mm, "
            f"{row.per_sheet} a sheet{cost}{mark}"
        )
    return [*lines, weighed.reason]


def _files(weighed: "Weighed", _told: Told) -> dict[str, bytes]:
    from buckwright.output.job_sheet.gap_plot import gap_plot
    from buckwright.workshop.gaps.weighing import csv_bytes

    plot = gap_plot(weighed.to_dict()).encode("utf-8")
    return {"gaps.csv": csv_bytes(weighed)} | ({"gaps.svg": plot} if plot else {})


GAPS = Stage(
    name="gaps",
    title="weighing gaps",
    gives="weighed",
    needs=("formed", "stock", "rig.grip_mm"),
    run=_weigh,
    sections=_sections,
    facts=_facts,
    papers=(Papers(make=_files),),
)
