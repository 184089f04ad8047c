"""What measured points say of the forecast, in plain words."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, counted

if TYPE_CHECKING:
    from buckwright.forming.forecast.measured import Against

__all__ = ["MEASURED", "about_measured"]

MEASURED = FindingKind(
    slug="measured-thickness",
    title="Measured against forecast",
    why="A part that was measured says more of your sheet, heater and machine than any forecast.",
    rule="Mean ratio of measured to forecast thickness, and whether the order of thick and thin is the same.",
    source="your own figures",
    remedies=(
        "Note the points in the pull log, which can keep their ratio with your machine.",
        "Where the order is wrong, change the heat (rim_colder_c, heat_map) before anything else.",
    ),
)


def about_measured(compared: "Against | None", given: str) -> list[Finding]:
    """Findings about measured points.

    Parameters
    ----------
    compared : the points against the forecast; None where none lies on the sheet, or none was given
    given : as the job has them

    Returns
    -------
    list of Finding
    """
    if compared is None:
        words = "No measured point lies where the sheet lies on the buck: are they in the buck's frame?"
        return [MEASURED.found("warn", words, setting="forecast.measured")] if given.strip() else []
    rank = "" if compared.rank is None else f", order of thick and thin {compared.rank:.2f} (1 is the same)"
    lost = f"; not on the sheet: {', '.join(compared.missed)}" if compared.missed else ""
    words = (
        f"Measured parts are {compared.ratio:.2f} times as thick as forecast (±{compared.spread:.0%}, "
        f"{counted(len(compared.names), 'point')}){rank}: {compared.noted}{lost}."
    )
    return [MEASURED.found("note", words, setting="forecast.measured")]
