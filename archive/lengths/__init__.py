"""What was written <-> millimetres of the real thing: lengths, conditions, limits and other quantities.

`parse_length` reads any notation of the trade or raises `LengthNotUnderstood`, which says why and how
to write it instead. Sums are exact inside (`Fraction`), floats come out. Pure: no files, no database.
"""

from archive.lengths.conditions import SizeRange, parse_size_range
from archive.lengths.grammar import parse_length
from archive.lengths.limits import WrittenLimit, parse_limit
from archive.lengths.notation import format_feet_inches, format_mm
from archive.lengths.quantities import Quantity, WrittenQuantity, parse_quantity, quantity_of
from archive.lengths.written import WrittenLength

__all__ = [
    "Quantity",
    "SizeRange",
    "WrittenLength",
    "WrittenLimit",
    "WrittenQuantity",
    "format_feet_inches",
    "format_mm",
    "parse_length",
    "parse_limit",
    "parse_quantity",
    "parse_size_range",
    "quantity_of",
]
