"""What lies beneath: the only room that opens rasters.

In reading order:

* one file: `raster` (what it says of itself), `hidden_zeros`, `blocks` (its
  values, only where touched);
* what is said beside it: `card`, `carded`, `card_of_all`;
* several as one: `files`, `index`, `layout`, `fields`, `mosaic`, `seams`, `seam_words`,
  and the `sea` where none is;
* the surface: `bilinear` (ground between posts, exactly), `patches` (the cells near
  a stretch of curve);
* straight rays: `chords`, `strides`, `peaks` (the highest post of groups of cells),
  `ray_asks`, `ray_search`, `ray_voids`, `ray_answers`, `rays`;
* `model`: the one contract that every check uses; `used_hash`, `used`;
* heights from another zero: `datums`, `geoid`;
* what looks wrong with a model: `inspect` and the modules named after it.
"""
