"""Marks on a photo -> sizes of the real thing, one method a module, each with its doubt.

Pure sums on arrays: no files, no database, no page. Pixels are those of the upright photo at full
resolution, (0, 0) the centre of the top-left pixel, x right, y down. Formulas name their papers.
"""
