"""Signs and ratios that were measured on formed sheets; the sources were read in abstracts or tables.

Most are dental sheets over an arch (conftest.py): heights and gap to the frame are printed, the rest is a
guess, so ratios are asserted and no level of a wall to better than 30 %. Nothing was fitted to them.
Thickness is over that of the flat sheet.
"""

import numpy as np
import pytest

from buckwright.forming.forecast.forecast_sheet import forecast_sheet
from buckwright.forming.forecast.heat import RIM_COLDER_C
from buckwright.forming.forecast.sheet_grid import disc

WALLS = ("front", "side")


@pytest.fixture
def places(over_arch):
    """Thickness over the flat sheet's at the places of an arch, with the usual cold rim."""
    return lambda **settings: over_arch(**{"rim_colder_c": RIM_COLDER_C} | settings)


def test_walls_get_thinner_with_the_height_of_the_model(places):
    # Takahashi & Bando 2022 (index record HS728872022008001): against 25 mm the labial and buccal walls lose
    # 6 to 7 % at 30 mm and 14 to 16 % at 35 mm, EVA 4 mm; wider here for want of frame and arch
    low, middle, high = (places(front_mm=height) for height in (25.0, 30.0, 35.0))
    for wall in WALLS:
        assert 0.04 < 1.0 - middle[wall] / low[wall] < 0.09
        assert 0.10 < 1.0 - high[wall] / low[wall] < 0.18


def test_the_share_left_of_a_wall_does_not_hang_on_the_sheet(places):
    # Takahashi & Bando, Dental Traumatology 2018, 10.1111/edt.12423: 2 and 4 mm alike where the gap is at
    # least the height. Mizuhashi et al., laminates of 5 and 6 mm: 0.566 to 0.588, a spread of 4 %
    found = [places(sheet_mm=sheet, sharpest_radius_mm=None) for sheet in (2.0, 4.0, 6.0)]
    for wall in WALLS:
        shares = [one[wall] for one in found]
        assert np.ptp(shares) < 0.04 * np.mean(shares)


def test_the_front_wall_gets_thinner_as_the_frame_comes_near(places):
    # Takahashi & Bando 2021 (Mater. Sci. Appl., paper 108990), gaps of 40 to 10 mm, heights of 25 and 30 mm:
    # the labial wall loses more as the gap shrinks, and the two heights differ by less than 5 points
    shares = [places(gap_mm=gap)["front"] for gap in (40.0, 25.0, 10.0)]
    assert (np.diff(shares) < -0.02).all()
    assert 0.0 < places()["front"] - places(front_mm=30.0)["front"] < 0.05


def test_draft_makes_walls_thicker(places):
    # 'Influence of working model angle', EVA 3.8 mm: labial and buccal walls are thickest at 85 degrees to
    # the base of 85, 90 and 95; the forecast takes 95 for upright
    upright = places(draft=np.tan(np.radians(0.5)))
    for wall in WALLS:
        assert places()[wall] > 1.02 * upright[wall]


def test_a_wall_that_is_tilted_up_comes_out_thicker(tilted_sulcus):
    # Farrington et al., 10.1111/edt.12213: identical models, tilted up in front by 0 and 45 degrees; at the
    # labial sulcus 1.6 mm (SD 0.34, n = 15) became 2.8 mm (SD 0.16). The forecast gains less than the 75 %
    flat, tilted = tilted_sulcus(0.0), tilted_sulcus(45.0)
    assert 1.15 * flat < tilted < 1.75 * flat


def test_an_evenly_heated_sheet_comes_out_thicker(places):
    # Takahashi & Bando, Mater. Sci. Appl. 11 (2020) 431, 10.4236/msa.2020.117029: with a centre at least 20
    # °C hotter than the rear, edge, cusp, labial and buccal places are all thinner than when heated evenly.
    # On the cusp, which sticks at once, the forecast has next to nothing.
    even = places(rim_colder_c=0.0)
    for place in ("edge", *WALLS):
        assert places()[place] < 0.95 * even[place]
    assert places()["cusp"] < even["cusp"] + 0.005


def test_the_heat_field_matters_and_its_level_hardly(places):
    # E. Sasimowski, Adv. Sci. Technol. Res. J. 11(4) (2017) 41: the outer heater zone matters in some places
    # only; a study of HIPS at 130 and 140 °C over male forms found no difference (validation of both by
    # abstract)
    usual, even = places(), places(rim_colder_c=0.0)
    colder = places(heat_map="0.9")
    outer = places(rim_colder_c=0.0, heat_map="1.1 1.1 1.1; 1.1 1 1.1; 1.1 1.1 1.1")
    for wall in WALLS:
        assert colder[wall] == pytest.approx(usual[wall], rel=0.02)
        assert outer[wall] > 1.03 * even[wall]
    assert outer["cusp"] == pytest.approx(even["cusp"], abs=0.01)


def test_a_broad_low_top_keeps_what_it_had_at_first_contact():
    # J. Healthcare Eng. 2019, 8074827, table 4 (PETG of 0.4 to 0.75 mm): a round disc comes out 0.994 +-0.03
    # times as thick as a sheet laid on a flat plate. Their size is not printed: 40 mm across, 5 mm high
    def top(height_mm):
        run = forecast_sheet(
            lambda q: np.where(np.hypot(*q.T) < 20.0, height_mm, 0.0),
            frame_mm=disc(55.0),
            sheet_mm=0.75,
            sag_mm=15.0,
            nodes=2000,
            finest_mm=2.0,
            quality="preview",
            rim_colder_c=RIM_COLDER_C,
        )
        return run.thickness_at(np.array([[0, 0, height_mm], [8, 0, height_mm], [-10, 5, height_mm]]))[0]

    disc_top, plate = top(5.0), top(0.5)
    assert disc_top == pytest.approx(plate, rel=0.05)
    assert plate / 0.75 == pytest.approx(
        0.93, abs=0.03
    )  # 7 % are lost to the sag before contact: plate 0.929


def test_walls_lie_within_what_was_measured(places):
    # front: 0.50 (10.1111/edt.12423), 0.46 (pmid 30300475), 0.547 (10.4236/msa.2023.146020), 0.58
    # (Mizuhashi); side: 0.60 (10.1111/edt.12423). The arch is partly a guess, so no single one to better than
    # 30 %
    measured = [("front", share) for share in (0.50, 0.46, 0.547, 0.58)] + [("side", 0.60)]
    off = [
        np.array([found[wall] / share - 1.0 for wall, share in measured])
        for found in (places(), places(rim_colder_c=0.0))
    ]
    assert np.abs(off[0]).max() < 0.3
    assert np.sqrt(np.mean(off[0] ** 2)) < 0.6 * np.sqrt(np.mean(off[1] ** 2))


def test_a_known_limit_narrow_edges_come_out_too_thick(places):
    # measured: edge 0.40 and front wall 0.50 (10.1111/edt.12423); edge thinnest of all, 0.50 (Materials 17
    # (2024) 3019). A sheet that sticks has it the other way round: told in the docs, and to be turned round
    # once it slips
    assert places()["edge"] > places()["front"]
