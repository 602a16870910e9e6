"""What can go wrong, as one small tree.

::

    TerrainGuardError
    ├── RefusedInput (ValueError)     the input breaks a rule; carries every fault found
    │   ├── RefusedRoute              the route file
    │   ├── RefusedRules              the rules file
    │   └── RefusedTerrain            the elevation model
    └── RefusedOutput (OSError)       the output cannot be written as asked

Every message has three parts: what was given, the rule, the remedy.
"""

from __future__ import annotations


class TerrainGuardError(Exception):
    """Root of every error the package raises on purpose."""


class RefusedInput(TerrainGuardError, ValueError):
    """Input that breaks a rule.

    Parameters
    ----------
    *faults : str
        One sentence a fault: what was given, the rule, the remedy.
    """

    def __init__(self, *faults: str) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


class RefusedRoute(RefusedInput):
    """The route file cannot be flown as written."""


class RefusedRules(RefusedInput):
    """The rules file does not say what is wanted."""


class RefusedTerrain(RefusedInput):
    """The elevation model cannot be trusted, or does not cover the route."""


class RefusedOutput(TerrainGuardError, OSError):
    """The output cannot be written as asked; nothing was written."""
