"""How the library and the extension are built: no circles of imports, short files, short functions."""

import ast
import statistics
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import grimp
import networkx
import pytest

ROOT = Path(__file__).resolve().parents[2]
HOMES = {"buckwright": ROOT / "analysis" / "buckwright", "blender_addon": ROOT / "blender_addon"}
MOST_LINES = 400
#: Lines of a function without its head and docstring; nine of ten are no longer.
MOST_BODY_LINES = 20


def _files(package: str) -> list[Path]:
    return sorted(path for path in HOMES[package].rglob("*.py") if "__pycache__" not in path.parts)


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def _file_of(module: str) -> Path:
    package, *rest = module.split(".")
    path = HOMES[package].joinpath(*rest)
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


@cache
def _module_level(path: Path) -> frozenset[int]:
    """First lines of the imports that run when a module is imported."""

    def inner(nodes: list[ast.stmt]) -> Iterator[int]:
        for node in nodes:
            if isinstance(node, ast.Import | ast.ImportFrom):
                yield node.lineno
            elif isinstance(node, ast.If | ast.Try | ast.With | ast.ClassDef):
                for part in ("body", "orelse", "finalbody"):
                    yield from inner(getattr(node, part, []))
                for handler in getattr(node, "handlers", []):
                    yield from inner(handler.body)

    return frozenset(inner(_tree(path).body))


@pytest.fixture
def imports(monkeypatch):
    """Who imports whom while it is imported itself: not within functions, and not for type checkers."""
    monkeypatch.syspath_prepend(ROOT)
    graph = grimp.build_graph(*HOMES, exclude_type_checking_imports=True, cache_dir=None)
    found = networkx.DiGraph()
    for module in graph.modules:
        lines = _module_level(_file_of(module))
        for other in graph.find_modules_directly_imported_by(module):
            details = graph.get_import_details(importer=module, imported=other)
            if any(entry["line_number"] in lines for entry in details):
                found.add_edge(module, other)
    return found


def test_every_module_is_seen(imports):
    assert len(imports) > 0.8 * sum(len(_files(package)) for package in HOMES)
    assert imports.has_edge("buckwright.pipeline.run", "buckwright.pipeline.engine")
    assert not imports.has_edge("buckwright.api", "buckwright.shape.base.building")  # within a function


def test_no_imports_run_in_a_circle(imports):
    circles = [
        sorted(circle) for circle in networkx.strongly_connected_components(imports) if len(circle) > 1
    ]
    assert not circles
    assert not list(networkx.selfloop_edges(imports))


@pytest.mark.parametrize("package", HOMES)
def test_no_file_is_too_long(package):
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in _files(package)}
    assert len(lengths) > 20
    assert not {str(path): lines for path, lines in lengths.items() if lines > MOST_LINES}


def _body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = function.body
    if isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant):
        body = body[1:]
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


@pytest.mark.parametrize("package", HOMES)
def test_functions_are_short(package):
    lengths = [
        _body_lines(node)
        for path in _files(package)
        for node in ast.walk(_tree(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    assert len(lengths) > 200
    assert statistics.quantiles(lengths, n=10)[-1] <= MOST_BODY_LINES
