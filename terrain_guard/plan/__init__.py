"""What the pilot wrote: route and rules, read, checked and kept.

In reading order: `route` and `rules` (the objects), `keys` and `schema` (what a
file may say, as data), `toml_file` and `reading` (bytes to checked values),
`swaps`, `consistency` and `stand_ins` (what the values mean together),
`route_toml` and `rules_toml` (the two readers), `template` (a file to fill in).
"""
