"""What is within: clearance, states, findings.

In reading order:

* the nearest ground: `triangles`, `search`, `quarters`, `clearance`; in a corridor:
  `discs`, `extremes`, `corridor`;
* limiting surfaces, take-off and landing: `limits`, `column`;
* the models given, and trees that none shows: `models`, `canopy`, `surveys`,
  `beneath`, `launching`, `views`;
* one curve, measured until nothing hides between its points: `wanted`, `cuts`,
  `probe`, `between`, `measure`;
* straight ways home: the sub-room `home`;
* states, on one ruler: `margins`, `judge`, `reference`;
* what is reported: `stretches`, `legs`, `sampled`, `sentences`, `findings`;
* what rules say of sea level, obstacles and the closest point: `sea_level`,
  `exceptions`, `closest_point`;
* what the air does to typed heights: `budget.standard_air`, `budget.air`, `air_remarks`;
* cautions by trigger: `near_route` (a look round), `terrain_hazards`, `line_hazards`,
  `typed_hazards`, their words, and `hazards`, which puts them together;
* what is seen, and heard by radio: `sight`;
* whether the terrain belongs to the route, how far a second ground differs, and what
  to say beside: `coverage`, `second_ground`, `remarks`.
"""
