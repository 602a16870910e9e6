"""What reaches the aircraft from where people stand: sight, and the radio link.

In reading order: `seen` (how far an aircraft of its size can be seen), `radio` (what a path
needs and loses), `watching` (margins of sight and link from one place), `watchers` (who loses
what), `standing` (where else to stand). The ground between is asked in
`terrain_guard.ground.rays`.
"""
