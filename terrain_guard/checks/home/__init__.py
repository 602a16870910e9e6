"""Coming home, from every metre of a flight, and what a lost link sets off."""
