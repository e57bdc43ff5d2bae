"""What was written <-> millimetres of the real thing: lengths, conditions, limits and other quantities.

`parse_length` reads any notation of the trade or raises `LengthNotUnderstood`, which says why and how
to write it instead. Sums are exact inside (`Fraction`), floats come out. Pure: no files, no database.
"""

from archive.lengths.grammar import parse_length
from archive.lengths.written import WrittenLength

__all__ = ["WrittenLength", "parse_length"]
