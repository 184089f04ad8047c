"""Settings of all tests: properties take the same examples every time, and processor time can be limited.

`--hypothesis-profile=explore` looks at fresh examples instead (`make explore`).
With BUCKWRIGHT_CPU_LIMIT_S=60 a test that needs more than 60 s of processor time fails, and the summary
lists the dearest ones.
"""

import os
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# The first example compiles the kernels, so none has a time limit.
settings.register_profile(
    "buckwright", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "explore",
    parent=settings.get_profile("buckwright"),
    derandomize=False,
    max_examples=500,
    print_blob=True,
)
settings.load_profile("buckwright")

# All processors are at work already: nothing is compiled in further processes beside a test.
os.environ.setdefault("BUCKWRIGHT_REHEARSING", "1")
# The sheets and machines of whoever runs the tests are not ours.
os.environ["BUCKWRIGHT_SHEETS"] = os.environ["BUCKWRIGHT_MACHINES"] = ""


EVERYTHING = bool(os.environ.get("BUCKWRIGHT_ALL_SETTINGS"))
LEFT = Path(__file__).with_name("left_to_explore.txt")


def pytest_collection_modifyitems(config, items):
    """Leave to `make explore` the tests and files that its list names; unknown names are refused."""
    named = {line for line in LEFT.read_text(encoding="utf-8").splitlines() if line and line[0] != "#"}
    files = {item.nodeid.partition("::")[0] for item in items}
    left = [item for item in items if named & {item.nodeid, item.nodeid.partition("::")[0]}]
    whole = not config.option.keyword and not any("::" in arg for arg in config.args)
    unknown = {name for name in named if name.partition("::")[0] in files}
    unknown -= {item.nodeid for item in left} | files
    if whole and unknown:
        raise pytest.UsageError(f"{LEFT.name} names tests that are not there: {sorted(unknown)}")
    if left and not EVERYTHING and whole:
        items[:] = [item for item in items if item not in left]
        config.hook.pytest_deselected(items=left)


def pytest_configure(config):
    if limit := os.environ.get("BUCKWRIGHT_CPU_LIMIT_S"):
        config.pluginmanager.register(ProcessorTime(float(limit)))


class ProcessorTime:
    """Processor time of each test with its fixtures and ended children, without the compiling of kernels."""

    def __init__(self, most_s):
        self.most_s, self.spent_s = most_s, {}

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_setup(self, item):
        from buckwright.kernel import compiling

        watch = compiling(lambda: None, lambda: None)
        self.begun = _processor_s(), watch, watch.__enter__()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_teardown(self, item):
        result = yield
        begun_s, watch, compiled = self.begun
        watch.__exit__(None, None, None)
        spent = _processor_s() - begun_s - compiled.seconds
        item.user_properties.append(("processor_s", spent))
        if spent > self.most_s:
            pytest.fail(f"needed {spent:.0f} s of processor time, {self.most_s:g} s are allowed")
        return result

    def pytest_runtest_logreport(self, report):
        if spent := dict(report.user_properties).get("processor_s"):
            self.spent_s[report.nodeid] = spent

    def pytest_terminal_summary(self, terminalreporter):
        terminalreporter.section("processor time")
        for nodeid in sorted(self.spent_s, key=self.spent_s.__getitem__, reverse=True)[:15]:
            terminalreporter.line(f"{self.spent_s[nodeid]:8.1f} s  {nodeid}")


def _processor_s():
    children = os.times()
    return time.process_time() + children.children_user + children.children_system


@pytest.fixture
def own_file(tmp_path, monkeypatch):
    """Maker of writers: each writes a file of the user's own, which a variable of the environment names."""

    def maker(environment, name):
        path = tmp_path / name
        monkeypatch.setenv(environment, str(path))

        def write(text):
            path.write_text(text, encoding="utf-8")
            return path

        return write

    return maker
