"""Sizes: readings written down, best figures kept up to date, what they come to at a scale.

`readings` writes down what was read, `estimates` works out what all readings of a size say together,
`overview` shows a subject's sizes. The sums are those of `metrology`; the rows are kept by `records`.
"""
