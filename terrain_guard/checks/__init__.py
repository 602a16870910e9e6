"""What is within: clearance, states, findings.

In reading order:

* the nearest ground: `triangles`, `search`, `quarters`, `clearance`;
* limiting surfaces, take-off and landing: `limits`, `column`;
* one curve, measured until nothing hides between its points: `wanted`, `cuts`,
  `probe`, `between`, `measure`;
* states, on one ruler: `margins`, `judge`, `reference`;
* what is reported: `stretches`, `legs`, `sampled`, `sentences`, `findings`;
* whether the terrain belongs to the route, and what to say beside: `coverage`,
  `remarks`.
"""
