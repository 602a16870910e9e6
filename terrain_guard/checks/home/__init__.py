"""Coming home, from every metre of a flight, and what a lost link sets off.

In reading order:

* how high a straight way must lie: `ways`, and what one place of the ground wants of one:
  `touch`; the ground beside them, in parts, and what a part could want at most: `beside`,
  `parts`, `tree`, `bounds`; the search: `best`, `missing` (ground that is not known), `outcome`,
  `lift`; ways put together from straight ones: `needed`;
* where ways begin and lead: `begun`, `destinations`; what they ask for: `need`, `needs`; their
  margins: `margins`; their states: `homeward`, `worst`; the one height for all: `height`;
* what a lost link sets off: `delays`, `landing`, `actions`;
* what is told: `told`, `home_findings`; all of it: `coming_home`.
"""
