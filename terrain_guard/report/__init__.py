"""Telling people: the answer as a table, as data and as a picture.

Every output speaks the words of `cautions` and `words`, so that a verdict reads
the same wherever it is printed. Nothing here judges: states come from the checks.
"""
