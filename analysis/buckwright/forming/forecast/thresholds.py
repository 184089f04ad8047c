"""Sizes by which a forecast is told: of the weakest spot, of air that counts, of what a hand needs."""

__all__ = [
    "CLEAR_MM",
    "COUNTED_MM3",
    "DISC_MM",
    "GAUGES_MM",
    "HANDY_MM",
    "LEAST_WEB_MM",
    "OVERLOOKED_SHARE",
    "SEEN_MM3",
    "THIN_SHARE",
]

DISC_MM = 10.0
"""Diameter of the disc over which the weakest spot is a mean: about a finger's tip (judgement)."""
THIN_SHARE = 0.05
"""Share of the part that is thinner than the figure of this name."""
COUNTED_MM3 = 400.0
"""Air from this volume on is counted in words and report; the number of smaller pools hangs on the net."""
SEEN_MM3 = 100.0
"""Smaller pools are left out: no vent is drilled for them (judgement)."""
LEAST_WEB_MM = 20.0
"""Webs at least so long are counted (judgement): how many shorter folds there are hangs on the net."""
GAUGES_MM = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
"""Sheets that are sold nearly everywhere: common practice, no source."""
HANDY_MM = 0.3
"""A part that is handled needs about this much everywhere: house rule."""
OVERLOOKED_SHARE = 0.25
"""A buck that stands out of the sheet by this share of a cell has details too fine for it (judgement)."""
CLEAR_MM = 4.0
"""What the trim line should be clear of the flare; the riser's rule leaves as much room. House rule."""
