"""Insert the rows of a file into an archive's tables, plainly and in one transaction; prints how long it worked."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from time import process_time
from typing import Any

from sqlalchemy import Table, create_engine, event, insert

from archive.records.tables import metadata

Rows = list[tuple[Table, list[dict[str, Any]]]]


def insert_plainly(database: Path, rows: Rows) -> None:
    """Insert table by table, with a transaction as safe as the program's and as much time to compile statements."""
    engine = create_engine(f"sqlite:///{database}")
    event.listen(engine, "connect", lambda connection, _: connection.execute("PRAGMA synchronous=FULL"))
    with engine.begin() as connection:
        for table, values in rows:
            connection.execute(insert(table), values)
    engine.dispose()


if __name__ == "__main__":
    database, file = (Path(word) for word in sys.argv[1:])
    rows = [(metadata.tables[name], values) for name, values in json.loads(file.read_text())]
    begun = process_time()
    insert_plainly(database, rows)
    print(process_time() - begun)
