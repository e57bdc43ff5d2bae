"""Write the schema of the newest revision, with Wendle Basin in it, to `dumps/NNNN.sql`.

Run it once with every new migration, when it lands, and keep what it wrote for ever:

    python tests/records/make_dump.py
"""

from __future__ import annotations

import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

DUMPS = Path(__file__).parent / "dumps"


def main() -> None:
    """Write the dump, unless it has been written before: an old dump must stay as it was."""
    sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]
    from wendle_basin import fill, new_archive

    from archive.records import migrate

    dump = DUMPS / f"{migrate.newest_revision():04d}.sql"
    if dump.exists():
        sys.exit(f"{dump.name} is there already and must stay as it is")
    with TemporaryDirectory() as folder:
        with new_archive(Path(folder) / "wharf") as archive:
            fill(archive)
        with closing(sqlite3.connect(Path(folder) / "wharf" / "archive.db")) as database:
            revision = database.execute("PRAGMA user_version").fetchone()[0]
            lines = [*database.iterdump(), f"PRAGMA user_version={revision};"]
    dump.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
