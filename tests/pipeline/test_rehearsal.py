"""The first run has its later loops compiled by a process beside it."""

import json
import subprocess
from typing import ClassVar

import pytest

from buckwright.job import Job
from buckwright.kernel import kernel
from buckwright.pipeline import on_a_ball, rehearsal


class Helper:
    """Stands for the process that is begun."""

    begun: ClassVar[list[list[str]]] = []
    ended = 0

    def __init__(self, command: list[str], **_how: object) -> None:
        self.begun.append(command)

    def kill(self) -> None:
        Helper.ended += 1

    def wait(self) -> int:
        return 0


@pytest.fixture
def helpers(monkeypatch: pytest.MonkeyPatch) -> type[Helper]:
    monkeypatch.delenv(rehearsal.REHEARSING, raising=False)
    monkeypatch.setattr(subprocess, "Popen", Helper)
    monkeypatch.setattr(rehearsal.os, "process_cpu_count", lambda: 2)
    monkeypatch.setattr(rehearsal, "keeps_code", lambda: True)
    Helper.begun, Helper.ended = [], 0
    return Helper


def compile_anew() -> None:
    @kernel
    def twice(x):  # type: ignore[no-untyped-def]
        return 2 * x

    twice._cache.flush()
    assert twice(4) == 8


def test_nothing_begins_where_all_is_compiled(helpers: type[Helper]) -> None:
    with rehearsal.rehearsed("look", Job()):
        pass
    assert not helpers.begun and not helpers.ended


def test_one_process_begins_with_the_first_loop_and_ends_with_the_run(helpers: type[Helper]) -> None:
    job = Job(forecast={"quality": "preview"}, pull={"direction": (0.0, 1.0, 0.0)})
    with rehearsal.rehearsed("make", job):
        compile_anew()
        compile_anew()
        assert not helpers.ended
    (command,) = helpers.begun
    assert helpers.ended == 1
    assert command[-2] == "make"
    again = Job(**json.loads(command[-1]))
    assert again.pull.direction == (0.0, 1.0, 0.0) and again.forecast.quality == "preview"


def test_it_ends_when_the_run_fails(helpers: type[Helper]) -> None:
    with pytest.raises(ValueError), rehearsal.rehearsed("make", Job()):
        compile_anew()
        raise ValueError
    assert helpers.ended == 1


def test_one_processor_compiles_alone(helpers: type[Helper], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rehearsal.os, "process_cpu_count", lambda: 1)
    with rehearsal.rehearsed("make", Job()):
        compile_anew()
    assert not helpers.begun


def test_the_rehearsal_works_the_whole_command_out(monkeypatch: pytest.MonkeyPatch) -> None:
    done = []
    real = on_a_ball.run

    def keeping(*args: object, **how: object) -> object:
        done.append(real(*args, **how))  # type: ignore[arg-type]
        return done[-1]

    monkeypatch.setattr(on_a_ball, "run", keeping)
    settings = {"pull": {"direction": "z"}, "forecast": {"quality": "off", "place_vents": False}}
    on_a_ball.main("make", json.dumps(settings))
    (outcome,) = done
    assert outcome.report["fill"]["added_volume_mm3"] > 0.0
    assert outcome.report["vents"]
