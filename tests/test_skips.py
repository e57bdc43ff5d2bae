"""Where CI is set, a test that is skipped without need fails the run."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
NEEDLESS = {
    "of one test": "import pytest\ndef test_it(): pytest.skip('it is hard')",
    "by a mark": "import pytest\n@pytest.mark.skipif(True, reason='it is hard')\ndef test_it(): pass",
    "of a module": "import pytest\npytest.skip('it is hard', allow_module_level=True)",
    "for want of cases": "import pytest\n@pytest.mark.parametrize('case', [])\ndef test_it(case): pass",
}


def outcome(folder: Path, source: str, *, ci: bool) -> tuple[int, str]:
    """Run one test file with this run's conftest; returns pytest's exit status and what it printed."""
    shutil.copy(HERE / "conftest.py", folder)
    (folder / "test_it.py").write_text(source)
    environment = {name: value for name, value in os.environ.items() if name != "CI"}
    environment |= {"PYTHONPATH": str(HERE), **({"CI": "true"} if ci else {})}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir", folder, folder]
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True)
    return done.returncode, done.stdout


@pytest.mark.parametrize("source", NEEDLESS.values(), ids=NEEDLESS)
def test_a_needless_skip_fails_in_ci_only(tmp_path: Path, source: str) -> None:
    status, said = outcome(tmp_path, source, ci=True)
    assert status not in (0, 5)
    assert "Skipped in CI, where a reason has to begin with 'must skip: '" in said
    assert outcome(tmp_path, source, ci=False)[0] in (0, 5)  # 5: no test was left to run


@pytest.mark.parametrize(
    "source",
    [
        "import pytest\ndef test_it(): pytest.skip('must skip: no such disk here')",
        "import pytest\n@pytest.mark.skipif(True, reason='must skip: POSIX only')\ndef test_it(): pass",
        "import pytest\n@pytest.mark.xfail(reason='known')\ndef test_it(): assert False",
        "def test_it(): pass",
    ],
)
def test_what_must_be_skipped_or_passes_is_no_failure(tmp_path: Path, source: str) -> None:
    assert outcome(tmp_path, source, ci=True)[0] == 0
