"""The order of layers, read from the import statements: downwards only, one library in one module."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import trackspread

ROOT = Path(trackspread.__file__).parent
LONGEST = 350

LAYERS = [
    {"errors"},
    {"model", "options", "system"},
    {"numeric"},
    {"noise"},
    {"geometry"},
    {"statistics"},
    {"pairs"},
    {"readers"},
    {"rides"},
    {"pipeline", "results"},
    {"report", "publish"},
    {"planning", "compare", "film"},
    {"api"},
    {"archive"},
    {"cli", "web"},
    {"__main__"},
]
"""From the ground up; a package stands for all of its modules."""

SIDEWAYS = {("cli", "web"): "the command that starts the page"}
"""The only imports within a layer that leave their package, and why."""

UPWARDS = {
    ("model.notebook", "results.frames"): "records give tables and layers when a notebook asks for them",
    ("model.notebook", "report.plot"): "a route draws itself when a notebook asks for it",
    ("model.reasons", "results.words"): "a code says its sentence when somebody prints it",
}
"""The only imports from above, inside functions, and why."""

ONE_MODULE = {
    "defusedxml": "readers.guard",
    "fitdecode": "readers.formats.fit",
    "folium": "report.route_map",
    "geopandas": "results.layers",
    "gpxpy": "readers.formats.gpx",
    "h11": "web.server",
    "jinja2": "report.page",
    "markupsafe": "report.page",
    "matplotlib": "report.drawing",
    "pandas": "results.frames",
    "platformdirs": "system.folders",
    "pyarrow": "readers.formats.parquet",
    "pynmea2": "readers.formats.nmea",
    "pyogrio": "results.layers",
    "pyproj": "geometry.projection",
    "uvicorn": "web.server",
}
SOME_PACKAGES = {
    "click": {"cli"},
    "shapely": {"results"},
    "rich": {"cli"},
    "scipy": {"numeric", "geometry", "noise", "statistics", "pairs", "rides", "pipeline", "compare"},
    "starlette": {"web"},
    "numpy": {
        "system",
        "model", "numeric", "geometry", "noise", "statistics", "pairs", "readers", "rides", "pipeline",
        "results", "report", "film", "publish", "planning", "compare", "archive", "web",
    },
}  # fmt: skip

MODULES = sorted(ROOT.rglob("*.py"))


def name_of(path: Path) -> str:
    """Return a module's name below the package: ``core.matching``, ``cli``, ``""`` for the package."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


def imports(path: Path) -> Iterator[tuple[int, str]]:
    """Return line and full name of all that a module imports, also inside functions."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name_of(path)}, line {node.lineno}: a relative import"
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)


def layer(name: str) -> int:
    return next(k for k, names in enumerate(LAYERS) if name.split(".", maxsplit=1)[0] in names)


def ours(full: str) -> str:
    """Return the module or package below ours that an import names, ``""`` for the package itself."""
    head = full.split(".")[1]
    is_module = (ROOT / f"{head}.py").exists() or (ROOT / head).is_dir()
    return head if is_module else ""


def third_party(path: Path) -> set[tuple[int, str]]:
    found = {(line, full.split(".")[0]) for line, full in imports(path)}
    return {(line, top) for line, top in found if top not in sys.stdlib_module_names and top != "trackspread"}


def test_every_module_belongs_to_a_layer() -> None:
    names = {name_of(path).split(".")[0] for path in MODULES} - {""}
    listed = set().union(*LAYERS)
    assert names == listed, names ^ listed


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_run_downwards_only(path: Path) -> None:
    own = name_of(path).split(".")[0]
    for line, full in imports(path):
        if not full.startswith("trackspread."):
            continue
        other = ours(full)
        if not own or not other or other == own or (own, other) in SIDEWAYS or is_upwards(path, full):
            continue
        assert layer(other) < layer(own), f"{name_of(path)}, line {line}, imports {full} from above or beside"


def is_upwards(path: Path, full: str) -> bool:
    return (name_of(path), ".".join(full.split(".")[1:3])) in UPWARDS


def test_no_import_from_above_is_kept_that_nobody_needs() -> None:
    used = {(name_of(path), ".".join(full.split(".")[1:3])) for path in MODULES for _, full in imports(path)}
    assert set(UPWARDS) <= used


def test_no_exception_is_kept_that_nobody_needs() -> None:
    used = {
        (name_of(path).split(".")[0], ours(full))
        for path in MODULES
        for _, full in imports(path)
        if full.startswith("trackspread.")
    }
    assert set(SIDEWAYS) <= used


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_a_library_stays_in_its_place(path: Path) -> None:
    name = name_of(path)
    for line, top in third_party(path):
        place = f"{name}, line {line}: {top}"
        assert top in ONE_MODULE or top in SOME_PACKAGES, (
            f"{place} is a new library: say here where it belongs"
        )
        if top in ONE_MODULE:
            assert name == ONE_MODULE[top], f"{place} belongs to {ONE_MODULE[top]} alone"
        else:
            assert name.split(".")[0] in SOME_PACKAGES[top], f"{place} belongs to {SOME_PACKAGES[top]}"


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_no_module_is_longer_than_can_be_read_at_once(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST


def loaded_after(code: str) -> set[str]:
    """Return the top-level modules that a fresh interpreter has loaded after ``code``."""
    told = (
        "import json, sys; print(json.dumps(sorted({m.split('.')[0] for m in sys.modules})), file=sys.stderr)"
    )
    run = subprocess.run(
        [sys.executable, "-c", f"{code}\n{told}"], capture_output=True, text=True, check=True, timeout=60
    )
    return set(json.loads(run.stderr.strip().splitlines()[-1]))


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["no-such-command"]])
def test_help_loads_nothing_but_click(arguments: list[str]) -> None:
    code = f"from trackspread.cli import main\ntry: main({arguments!r})\nexcept SystemExit: pass"
    loaded = loaded_after(code) - loaded_after("pass")
    foreign = {name for name in loaded if name not in sys.stdlib_module_names}
    assert {"trackspread", "click"} <= foreign
    heavy = {
        "numpy",
        "pandas",
        "scipy",
        "folium",
        "geopandas",
        "matplotlib",
        "gpxpy",
        "rich",
        "jinja2",
        "pyproj",
    }
    assert not foreign & heavy
    assert not foreign - {"trackspread", "click", "colorama"}


def test_the_package_itself_loads_nothing() -> None:
    loaded = loaded_after("import trackspread, trackspread.errors, trackspread.api, trackspread.options")
    assert not {name for name in loaded - loaded_after("pass") if name not in sys.stdlib_module_names} - {
        "trackspread"
    }
