"""The examples in docstrings run and print what they say."""

import doctest
import importlib
import pkgutil
from importlib.util import find_spec
from pathlib import Path

import pytest

import buckwright


def _with_examples() -> list[str]:
    """Modules whose source holds an example; found without importing them."""
    names = [module.name for module in pkgutil.walk_packages(buckwright.__path__, "buckwright.")]
    origins = {name: find_spec(name).origin for name in names}
    return [name for name in names if ">>> " in Path(origins[name]).read_text(encoding="utf-8")]


MODULES = _with_examples()


def _examples(name: str) -> list[doctest.DocTest]:
    return doctest.DocTestFinder(exclude_empty=True).find(importlib.import_module(name))


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_a_module_print_what_they_say(name: str) -> None:
    tests = [test for test in _examples(name) if test.examples]
    assert tests, "the module holds an example that doctest does not find"
    runner, report = doctest.DocTestRunner(), []
    for test in tests:
        runner.run(test, out=report.append)
    assert runner.summarize(verbose=False).failed == 0, "".join(report)


def test_every_room_of_the_library_has_examples() -> None:
    rooms = {name.split(".")[1] for name in MODULES}
    assert rooms >= {"mesh", "relief", "survey", "shape", "forming", "output"}
