"""What the pilot wrote: route and rules, read, checked and kept.

In reading order: `route` and `rules` (the objects), `keys` and `schema` (what a
file may say, as data), `toml_file`, `reading` and `unknown_keys` (bytes to
checked values), `swaps`, `consistency` and `stand_ins` (what the values mean together),
`rule_sets` (published ceilings, as data), `rules_toml` and `rules_based_on` (the rules'
reader, by name or from a file), `template` (a file to fill in).

Route files come in six formats, through one door, `route_files`. Each reader makes
a `draft` of what a TOML route file would hold; `route_from_draft` judges it by the
schema. `route_toml` and `route_geojson` hold everything; `route_csv`, `route_kml`,
`route_kmz` and `route_gpx` hold a line of points, and what they leave open is `told`
apart or refused (`line_heights`, `lines`, `launch_apart`). `convert` writes them.
"""
