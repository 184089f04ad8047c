"""What the rooms above hear of what happens in the scene."""

import pytest


@pytest.fixture
def kept(scene):
    """Results with two trapped regions and two places of a sheet in the lists."""
    results = scene.buckwright_results
    for rows in (results.regions, results.spots):
        rows.add()
        rows.add()
    return results


def test_those_who_listen_are_told_in_turn_until_they_stop(addon):
    event, told = addon.scene.events.Event(), []

    def first(word):
        told.append(("first", word))

    def second(word):
        told.append(("second", word))

    event.listen(first)
    event.listen(second)
    event.tell("a")
    event.ignore(first)
    event.tell("b")
    assert told == [("first", "a"), ("second", "a"), ("second", "b")]


@pytest.mark.parametrize(
    ("index", "event"), [("region_index", "region_chosen"), ("spot_index", "spot_chosen")]
)
def test_only_a_row_that_is_there_is_chosen(addon, kept, index, event):
    told = []
    event = getattr(addon.scene.results, event)
    event.listen(told.append)
    try:
        setattr(kept, index, 1)
        setattr(kept, index, 2)
    finally:
        event.ignore(told.append)
    assert len(told) == 1


@pytest.mark.parametrize("index", ["region_index", "spot_index"])
def test_the_view_follows_a_chosen_row_unless_results_are_being_written(addon, kept, monkeypatch, index):
    places = []
    monkeypatch.setattr(
        addon.view.go_to_place, "look_at", lambda _context, place, **_how: places.append(place)
    )
    setattr(kept, index, 1)
    assert len(places) == 1
    monkeypatch.setattr(addon.scene.running, "_now", object())
    setattr(kept, index, 0)
    assert len(places) == 1


def test_a_result_that_is_removed_is_told(addon, scene):
    told = []

    def hear(where, result):
        told.append((where.name, result))

    changed = addon.scene.write_results.results_changed
    changed.listen(hear)
    try:
        addon.scene.write_results.remove(scene)
    finally:
        changed.ignore(hear)
    assert told == [(scene.name, None)]
