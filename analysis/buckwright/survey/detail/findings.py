"""What there is to say of details that are too fine for the sheet."""

from typing import TYPE_CHECKING

from buckwright.findings import Finding, FindingKind, at_words, counted

if TYPE_CHECKING:
    from buckwright.survey.detail.measuring import Detail

__all__ = ["KINDS", "about_detail"]

STROKES = FindingKind(
    slug="narrow-strokes",
    title="Strokes too narrow",
    why="The sheet closes over a groove that is narrower than about two of its own thicknesses: it comes out flat.",
    rule=(
        "A ball of the narrowest stroke's width is rolled over the buck; told where it leaves open more than half "
        "a sheet of the depth."
    ),
    source="common practice, no source: strokes of two sheets; half a sheet: judgement",
    remedies=("Widen the stroke in the sculpt.", "Take a thinner sheet.", "Leave it out of the sculpt."),
)
EDGES = FindingKind(
    slug="sharp-edges",
    title="Edges sharper than asked",
    why="Over a sharp edge the sheet thins most and cracks first; what is cast in it chips there.",
    rule=(
        "A ball of the least radius is rolled under the surface of the buck above the trim line; told where it does "
        "not reach. Edges that turn by less than about 55 degrees are not told."
    ),
    source="geometry; the radius is the job's own",
    remedies=("Round the edge in the sculpt.", "Ask for a smaller radius."),
)
COARSE = FindingKind(
    slug="detail-not-checked",
    title="Details not checked",
    why="A check that was not made must not be taken for one that found nothing.",
    rule="Told where the buck is so large that its height raster cannot show so small a stroke or radius.",
    source="house rule",
    remedies=("Ask for a wider stroke or a larger radius.",),
)
KINDS = (STROKES, EDGES, COARSE)

_MOST_TOLD = 4  # places that are named


def about_detail(detail: "Detail") -> list[Finding]:
    """Findings about strokes and edges.

    Parameters
    ----------
    detail : what was measured on the buck

    Returns
    -------
    list of Finding
    """
    return [*_strokes(detail), *_edges(detail), *_coarse(detail)]


def _strokes(detail: "Detail") -> list[Finding]:
    if not detail.strokes:
        return []
    count = len(detail.strokes)
    told = [f"{at_words(one.at_mm)} ({one.lost_mm:.1f} mm lost)" for one in detail.strokes[:_MOST_TOLD]]
    words = (
        f"{counted(count, 'stroke')} narrower than {detail.stroke_mm:g} mm will not come out, as the sheet closes over them: "
        f"{'; '.join(told)}{_more(count)}."
    )
    advice = "Widen them in the sculpt, or take a thinner sheet."
    at = detail.strokes[0].at_mm
    return [STROKES.found("note", words, advice, at_mm=at, setting="detail.stroke_mm")]


def _edges(detail: "Detail") -> list[Finding]:
    if not detail.edges:
        return []
    count = len(detail.edges)
    told = [at_words(one.at_mm) for one in detail.edges[:_MOST_TOLD]]
    words = (
        f"Edges are sharper than {detail.edge_radius_mm:g} mm in {counted(count, 'place')}, over about "
        f"{detail.edge_length_mm:.0f} mm: {'; '.join(told)}{_more(count)}."
    )
    advice = f"Round them to {detail.edge_radius_mm:g} mm in the sculpt, or ask for less."
    at = detail.edges[0].at_mm
    return [EDGES.found("warn", words, advice, at_mm=at, setting="detail.edge_radius_mm")]


def _more(count: int) -> str:
    return f"; and {count - _MOST_TOLD} more, in the report" if count > _MOST_TOLD else ""


def _coarse(detail: "Detail") -> list[Finding]:
    asked = (
        ("strokes", detail.stroke_mm, detail.strokes, "detail.stroke_mm"),
        ("edges", detail.edge_radius_mm, detail.edges, "detail.edge_radius_mm"),
    )
    return [
        COARSE.found("note", f"The buck is too large to look for {what} of {size:g} mm.", setting=setting)
        for what, size, found, setting in asked
        if size > 0.0 and found is None
    ]
