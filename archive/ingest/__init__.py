"""Files -> photos: what is there, what it says of itself, a safe copy, a record, a preview.

`importing.import_files` is the use case; `survey` finds and reads, `metadata` knows what cameras
write, `safe_copy` copies so that a crash does no harm, `previews` makes the small pictures.
"""
