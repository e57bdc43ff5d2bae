"""A build's reference pack: the PDF for the workbench, the sizes as CSV and JSON, and the chosen photos.

`content` says what a pack holds; `size_pages`, `photo_pages` and `cover` lay it out; `pdf` draws it and
`exports` writes the tables; `whole_folder` puts it all in place at once or not at all.
"""
