"""The way home: how high a straight way must be to keep its distance from the ground.

In reading order:

* ways, and what one place of the ground wants of one: `ways`, `touch`;
* the ground beside them, in parts, and what a part could want at most: `beside`,
  `parts`, `tree`, `bounds`;
* the search: `best`, `missing` (ground that is not known), `lift`;
* ways home put together from straight ones: `needed`.
"""
