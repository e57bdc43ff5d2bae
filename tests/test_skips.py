"""Where CI is set, a test that is skipped without need fails the run."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).parent
NEEDLESS = [
    "import pytest\ndef test_it(): pytest.skip('it is hard')",  # of one test
    "import pytest\n@pytest.mark.skipif(True, reason='it is hard')\ndef test_it(): pass",  # by a mark
    "import pytest\npytest.skip('it is hard', allow_module_level=True)",  # of a module
    "import pytest\n@pytest.mark.parametrize('case', [])\ndef test_it(case): pass",  # for want of cases
]


def failures(folder: Path, sources: Sequence[str], *, ci: bool) -> dict[str, str]:
    """Run test files with this run's conftest in one go; returns the sources of those that fail, with what is said."""
    folder.mkdir()
    shutil.copy(HERE / "conftest.py", folder)
    for number, source in enumerate(sources):
        (folder / f"test_{number}.py").write_text(source)
    environment = {name: value for name, value in os.environ.items() if name != "CI"}
    environment |= {"PYTHONPATH": str(HERE), "COLUMNS": "300", **({"CI": "true"} if ci else {})}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir", folder]
    command += ["--continue-on-collection-errors", folder]
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True)
    failed = dict(re.findall(r"^(?:FAILED|ERROR) test_(\d+)\.py(.*)$", done.stdout, re.MULTILINE))
    usual = (1,) if failed else (0, 5)  # 5: no test was left to run
    assert done.returncode in usual, done.stdout
    return {sources[int(number)]: said for number, said in failed.items()}


def test_a_needless_skip_fails_in_ci_only(tmp_path: Path) -> None:
    failed = failures(tmp_path / "ci", NEEDLESS, ci=True)

    assert sorted(failed) == sorted(NEEDLESS)
    assert all("Skipped in CI, where a reason has to begin with" in said for said in failed.values())
    assert failures(tmp_path / "at home", NEEDLESS, ci=False) == {}


def test_what_must_be_skipped_or_passes_is_no_failure(tmp_path: Path) -> None:
    sources = [
        "import pytest\ndef test_it(): pytest.skip('must skip: no such disk here')",
        "import pytest\n@pytest.mark.skipif(True, reason='must skip: POSIX only')\ndef test_it(): pass",
        "import pytest\n@pytest.mark.xfail(reason='known')\ndef test_it(): assert False",
        "def test_it(): pass",
    ]

    assert failures(tmp_path / "ci", sources, ci=True) == {}
