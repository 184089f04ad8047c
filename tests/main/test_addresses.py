"""The README as a package index shows it: full addresses, or no pictures where no address is known."""

import importlib.util
import re
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def hook(monkeypatch):
    """The build's hook, without the build."""
    interface = ModuleType("hatchling.metadata.plugin.interface")
    interface.MetadataHookInterface = object
    monkeypatch.setitem(sys.modules, interface.__name__, interface)
    for name in ("hatchling", "hatchling.metadata", "hatchling.metadata.plugin"):
        monkeypatch.setitem(sys.modules, name, ModuleType(name))
    spec = importlib.util.spec_from_file_location("hatch_build", ROOT / "hatch_build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_pictures_and_links_lead_to_files_that_are_there(hook):
    words = hook.addressed((ROOT / "README.md").read_text(encoding="utf-8"), "https://example.org/it")
    found = re.findall(r"\]\(([^)\s]+)", words)
    assert all(link.startswith(("https://", "#")) for link in found)
    inside = [link.removeprefix("https://example.org/it/") for link in found if "example.org/it/" in link]
    assert sum(link.endswith(".png") for link in inside) > 3
    assert all((ROOT / link).exists() for link in inside)


def test_without_an_address_nothing_is_broken(hook):
    words = hook.addressed("a ![b](c.png)\n[d](e.md), [f](https://g) and [h](#i)", "")
    assert words == "a d, [f](https://g) and [h](#i)"
    assert "](docs/" not in hook.addressed((ROOT / "README.md").read_text(encoding="utf-8"), "")


def test_the_address_is_told_to_the_build(hook, monkeypatch):
    monkeypatch.setenv(hook.ADDRESS, "https://example.org/it/")
    made, metadata = hook.Addresses(), {}
    made.root = str(ROOT)
    made.update(metadata)
    assert metadata["urls"] == {"Repository": "https://example.org/it"}
    assert "https://example.org/it/docs/heron_buck.png" in metadata["readme"]["text"]
