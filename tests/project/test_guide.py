"""DEVELOPERS.md holds: the files it names are there, and the fix it shows is a whole one."""

from __future__ import annotations

import inspect
import re
import shutil
from pathlib import Path

from click.testing import CliRunner
from tests.catalog import test_catalog_content

from deskmend.cli import deskmend
from deskmend.intake.catalog import load_catalog

from .source_tree import PACKAGE, ROOT, SOURCE

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
FOLDERS = (ROOT, SOURCE / PACKAGE, ROOT / "catalog", SOURCE / PACKAGE / "choice")
"""Where a path in the guide may begin; file names without a folder are named under ``choice``."""
BUILT = {"deskmend/_catalog", "deskmend/_scenarios"}


def test_files_that_the_guide_names_exist() -> None:
    named = set(re.findall(r"`([\w.*]+(?:/[\w.*-]+)+/?|\w+\.(?:py|csv|yaml|md|toml))`", GUIDE)) - BUILT
    assert len(named) > 25
    beside = [*FOLDERS, SOURCE, *(path.parent for path in (ROOT / "scenarios").glob("*/case.yaml"))]
    missing = [name for name in named if not any(list(folder.glob(name)) for folder in beside)]
    assert missing == []


def test_the_fix_shown_fits_the_catalog(tmp_path: Path) -> None:
    shown = re.search(r"<!-- a fix -->\n```yaml\n(.*?)```", GUIDE, re.DOTALL)
    assert shown is not None
    folder = tmp_path / "catalog"
    shutil.copytree(ROOT / "catalog", folder)
    (folder / "fixes" / "from_the_guide.yaml").write_text(shown[1], encoding="utf-8")
    done = CliRunner().invoke(deskmend, ["check", str(folder)])
    assert (done.exit_code, done.stderr) == (0, "")
    fix = load_catalog(folder).by_id["folded_coat"]
    for check in vars(test_catalog_content).values():
        if inspect.isfunction(check) and list(inspect.signature(check).parameters) == ["fix"]:
            check(fix)


def test_the_quantity_shown_is_one_of_the_code() -> None:
    shown = re.search(r"```python\n(.*?)```", GUIDE, re.DOTALL)
    assert shown is not None
    assert shown[1] in (SOURCE / PACKAGE / "workstation" / "posture.py").read_text(encoding="utf-8")
