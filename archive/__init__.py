"""Rivetbook: a reference-photo and dimension archive for people who build scale models of real things.

The folders are the layers, and imports point down this list only: `cli` (the door), `demo`,
`packs`, then `search`, `ingest` and `dimensions` (the use cases), `records` (tables, files,
history), `pictures`, `photogrammetry` and `metrology` (pure sums), `wording`, and at the foot
`lengths`, `scales`, `kinds` and `errors`.
"""
