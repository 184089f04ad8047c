"""Zones of the heater: temperatures of the sheet under each, and what the forecast takes of them."""

import math

import attrs
import numpy as np
import pytest

from buckwright.errors import JobError
from buckwright.forming.forecast.heat import RISE_C
from buckwright.forming.forecast.heat_map import MOST_HEAT, rows_of
from buckwright.forming.forecast.settings import ForecastSettings
from buckwright.forming.forecast.stage import under_zones
from buckwright.forming.heating.settings import HeatingSettings
from buckwright.forming.heating.sheet_heating import heat_sheet, heating_course
from buckwright.forming.sheets.materials import sheet
from buckwright.forming.zones.findings import about_zones
from buckwright.forming.zones.zoned import heat_zones
from buckwright.workshop.machine.filling import filled
from buckwright.workshop.machine.settings import MachineSettings

PETG = sheet("PETG")
# Nothing lost to the air: all the heat that comes in stays.
KEPT = HeatingSettings(flux_kw_m2=5.0, transfer_w_m2k=0.0, emissivity=0.0)


def zones(rows, settings=KEPT, material=PETG):
    heated = heat_sheet(material, 1.0, settings)
    return heated, heat_zones(rows, heated, material, 1.0, settings, rise_c=RISE_C, most_heat=MOST_HEAT)


def test_without_losses_a_zone_rises_by_its_share_of_the_heat():
    # q t / (rho c L): exact for the mean, whatever goes on through the thickness
    rows = [[0.95, 1.0], [1.05, 0.9]]
    heated, found = zones(rows)
    held = PETG.density_kg_m3.value * PETG.heat_capacity_j_kgk.value * 1e-3
    exact = 20.0 + np.array(rows) * 5e3 * heated.chosen_s / held
    assert np.array(found.mean_c) == pytest.approx(exact, abs=0.3)
    heats = 1.0 + (exact - heated.mean_c) / RISE_C
    assert np.array(rows_of(found.heat_map)) == pytest.approx(heats, abs=0.003)
    assert not found.cut_off


def test_the_first_row_lies_behind_in_words_and_in_front_in_rows():
    _, found = zones([[0.9], [1.1]])
    behind, front = (float(row) for row in found.heat_map.split(";"))
    assert behind > 1.0 > front
    assert found.to_dict()["mean_c"][0][0] > found.to_dict()["mean_c"][1][0]


def test_what_suits_every_zone_lies_between_the_ends_of_the_extremes():
    heated, found = zones([[0.9, 1.0, 1.1]])
    for share, moment, n in ((0.9, found.earliest_s, 0), (1.1, found.latest_s, 1)):
        assert heating_course(PETG, 1.0, KEPT, share * 5.0).events_s[n] == pytest.approx(moment)
    assert heated.earliest_s < found.earliest_s < found.latest_s < heated.latest_s


def test_a_hot_body_gives_a_share_of_its_flux_by_the_fourth_power():
    lost = HeatingSettings(heater="plate", heater_c=450.0)
    heated, even = zones([[1.0]], lost)
    assert even.mean_c[0][0] == pytest.approx(heated.mean_c, abs=0.01)
    assert even.heat_map == "1"
    _, found = zones([[0.8, 1.0]], lost)
    assert found.mean_c[0][0] < found.mean_c[0][1] - 5.0


def test_zones_that_no_time_suits_and_times_that_do_not_suit_are_told():
    _, even = zones([[0.99, 1.01]])
    assert about_zones(even, PETG) == []
    _, torn = zones([[0.5, 2.0]])
    (found,) = about_zones(torn, PETG)
    assert found.slug == "zones-too-uneven" and not torn.at_once and torn.cut_off
    moved = attrs.evolve(KEPT, flux_kw_m2=5.0)
    heated, weak = zones([[0.8, 0.85]], moved)
    (found,) = about_zones(weak, PETG)
    assert found.slug == "zones-need-another-time"
    assert weak.earliest_s > heated.chosen_s and str(math.ceil(weak.earliest_s)) in found.advice


def test_the_forecast_takes_them_unless_it_has_a_map_of_its_own():
    _, found = zones([[0.9, 1.0]])
    assert under_zones(ForecastSettings(), found).heat_map == found.heat_map
    own = ForecastSettings(heat_map="1 0.9")
    assert under_zones(own, found) is own
    assert under_zones(ForecastSettings(model="geometric"), found).heat_map == ""
    assert under_zones(own, None) is own


def test_zones_come_with_the_machine_and_what_is_no_map_is_refused():
    own = MachineSettings(heater_zones="0.8 1; 1 1.2")
    assert filled(MachineSettings(), own).heater_zones == "0.8 1; 1 1.2"
    assert filled(own, MachineSettings(heater_zones="1 2")).heater_zones == "0.8 1; 1 1.2"
    for words in ("0.9 1; 1", "hot", "0.1", "4"):
        with pytest.raises(JobError, match="heater_zones"):
            MachineSettings(heater_zones=words)
