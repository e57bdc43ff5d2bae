"""Finding things again, by any word for them, by kind, and by size judged with its doubt.

`find` is the one use case. Words are looked up in an index that follows the records' change log by
itself (`index`); sizes and conditions are asked of the records. What is found is read from the
records, so that the index may lag, be lost or be damaged and no answer is ever wrong for it.
"""

from archive.search.finding import Counts, FindResult, Hit, find

__all__ = ["Counts", "FindResult", "Hit", "find"]
