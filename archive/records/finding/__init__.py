"""What a finder asks of the records: the words of things in bulk, for an index; and what keeps to a condition, as keys.

`words` and `stale` feed an index; `shots`, `sizes` and `spots` judge conditions, among a few things or among
all; `cards` and `tally` tell what is shown of what was found.
"""
