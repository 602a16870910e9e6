"""Names for the three kinds of array the computing rooms pass to each other."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.floating[Any]]
"""float64; NaN where something is not known."""
Ints: TypeAlias = NDArray[np.signedinteger[Any]]
Bools: TypeAlias = NDArray[np.bool_]
