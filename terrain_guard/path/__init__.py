"""The curve really flown: from what was typed to metres in the air.

In reading order: `frame` (metres on the ground), `curve` (samples and strokes),
`altimeter` (what is flown for what is typed), `pen` (out and home, straight) and
`beside` (which of these decide). Between the waypoints: `pieces`, `turns`, `fly_over` and
`splines` (lines, arcs, cubics), `stands` and `tracks` (over the ground), `climbs` and
`leg_heights` (up and down), `envelope` (lowest and highest), `legs` and `drawing` (all of
them together). Last `flight`: every way a route may be flown.
"""
