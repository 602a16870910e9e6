"""What is within: clearance, states, findings.

In reading order: `triangles`, `search` and `clearance` (the nearest ground),
`limits` and `column` (limiting surfaces, take-off and landing), `wanted`,
`cuts`, `probe`, `between` and `measure` (one curve, measured until nothing hides
between its points),
`margins`, `judge` and `reference` (states, on one ruler), `stretches`, `legs`,
`sampled`, `sentences` and `findings` (what is reported), `coverage` and
`remarks` (whether the terrain belongs to the route, and what to say beside).
"""
