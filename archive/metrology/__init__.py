"""How far to trust a number: named error sources, instruments, agreement, tallies.

Pure sums on small frozen dataclasses and arrays: no files, no database, no page. The methods are
those of JCGM 100:2008 (GUM) and JCGM 101:2008.
"""
