"""The records: tables, transactions with their history, the archive folder and its originals.

The only place that speaks SQL. `open_archive` gives an `Archive`; `archive.look()` reads and
`archive.change("what happened")` writes, all or nothing, one line of history each. The modules named
after the trade's things (`visits`, `photos`, `subjects`, `sizes`, `instruments`, `builds`) take either
and hand back the plain dataclasses of `things`.
"""
