"""The faults that are planted on purpose: each can still be planted."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent


def _faults() -> Any:
    spec = importlib.util.spec_from_file_location("faults", ROOT / "scripts" / "faults.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["faults"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module.FAULTS


FAULTS = _faults()


def test_there_are_enough() -> None:
    """At least fifteen, each with a name of its own."""
    assert len({fault.name for fault in FAULTS}) == len(FAULTS) >= 15


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name.replace(" ", "-"))
def test_it_can_be_planted(fault: Any) -> None:
    """The right text still stands where the wrong one is to go."""
    text = (ROOT / "terrain_guard" / fault.file).read_text(encoding="utf-8")
    assert fault.old in text
    assert fault.old != fault.new
