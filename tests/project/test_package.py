"""What pyproject.toml promises: data that ships, and no dependency too many or too few."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable

from .source_tree import PACKAGE, ROOT, SOURCE, imports_of_tests, package_imports, pyproject

IMPORTED_AS = {
    "axe-selenium-python": "axe_selenium_python",
    "pi-heif": "pi_heif",
    "pillow": "PIL",
    "pytest-xdist": "xdist",
    "pyyaml": "yaml",
    "typing-extensions": "typing_extensions",
}
"""Import name of a distribution where it is another than its own."""
PLUGINS = {"httpx2", "xdist"}
"""What pytest and the test client of Starlette find and load by themselves."""
EXTRAS = ("cluster", "heif", "tables")
"""Extras of what some people need; a module that imports such a package says so where it is missing."""
COMES_WITH = {"coverage": "pytest-cov", "pydantic_core": "pydantic"}
"""Packages that another one brings along in exactly the version it wants; listing them would be wrong."""


def names(requirements: Iterable[str]) -> set[str]:
    """Import names of a list of requirements."""
    found = {re.split(r"[^A-Za-z0-9_-]", one, maxsplit=1)[0].lower() for one in requirements}
    return {IMPORTED_AS.get(name, name) for name in found}


def foreign(targets: Iterable[str]) -> set[str]:
    """Top names that belong neither to Python nor to the project."""
    own = {PACKAGE, "", *(path.stem for path in (ROOT / "tests").rglob("*.py")), "tests", "__future__"}
    own |= {path.name for path in (ROOT / "tests").rglob("*") if path.is_dir()}
    tops = {name.split(".")[0] for name in targets} - own - set(sys.stdlib_module_names)
    return {COMES_WITH.get(name, name) for name in tops}


def test_what_is_imported_is_what_is_listed() -> None:
    project = pyproject()["project"]
    optional = names(one for extra in EXTRAS for one in project["optional-dependencies"][extra])
    assert foreign(one.target for one in package_imports()) == names(project["dependencies"]) | optional


def test_what_tests_import_is_installed_for_them() -> None:
    project = pyproject()["project"]
    extra = names(project["optional-dependencies"]["test"])
    wanted = foreign(one.target for one in imports_of_tests())
    assert wanted <= extra | names(project["dependencies"])
    assert extra <= wanted | PLUGINS


def test_lists_are_sorted_and_every_entry_has_a_least_version() -> None:
    project = pyproject()["project"]
    for listed in (project["dependencies"], project["optional-dependencies"]["test"]):
        assert listed == sorted(listed)
        assert [one for one in listed if not re.search(r"[>=]=\d", one)] == []


def test_typed_marker_catalog_and_scenarios_ship() -> None:
    assert (SOURCE / PACKAGE / "py.typed").is_file()
    wheel = pyproject()["tool"]["hatch"]["build"]["targets"]["wheel"]
    assert wheel["force-include"] == {"catalog": "deskmend/_catalog", "scenarios": "deskmend/_scenarios"}
    assert wheel["packages"] == ["src/deskmend"]


def test_source_distribution_holds_all_that_tests_need() -> None:
    listed = pyproject()["tool"]["hatch"]["build"]["targets"]["sdist"]["include"]
    missing = [name for name in listed if not (ROOT / name).exists()]
    assert missing == []
    assert {"src", "catalog", "scenarios", "tests", "docs", "README.md", "LICENSE", ".ci"} <= set(listed)


def test_one_version_is_told_everywhere() -> None:
    text = (SOURCE / PACKAGE / "__init__.py").read_text(encoding="utf-8")
    version = pyproject()["project"]["version"]
    assert f'__version__ = "{version}"' in text
    assert f"\n## {version} " in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
