"""Where the folders that travel with the program are: `migrations` and `demo_library`.

In a wheel they lie in `archive/_carried/`; in a checkout or an editable install, at its top level.
"""

from __future__ import annotations

from pathlib import Path


def carried_folder(name: str) -> Path:
    """Return the folder `name` that was shipped with the program; raises FileNotFoundError if it is gone."""
    package = Path(__file__).resolve().parent
    for folder in (package / "_carried" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the program's own folder '{name}' is missing; install Rivetbook again")
