"""What lies beneath: the only room that opens rasters.

In reading order: `raster` (what a file says of itself), `blocks` (its values,
only where touched), `bilinear` (ground between posts, exactly), `patches` (the
cells near a stretch of curve), `model` (the one contract that every check uses).
"""
