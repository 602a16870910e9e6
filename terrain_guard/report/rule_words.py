"""The rules as people read them: name, limits, and who says so; the same in every output."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from terrain_guard.report import words

if TYPE_CHECKING:
    from terrain_guard.plan.rules import Rules


def name(rules: Rules) -> str:
    """Write what the rules are called, where they come from, and what they are based on."""
    if rules.origin == "default":
        return rules.name
    changed = rules.based_on is not None and rules.based_on != rules.origin
    return f"{rules.name} ({rules.origin}{f', based on {rules.based_on}' if changed else ''})"


def limits(rules: Rules, unit: str) -> str:
    """Write every limit in `unit` and, where it differs, in the rule's own."""
    floor = "height above ground" if rules.floor_measure == "vertical" else "clearance"
    parts = [f"{floor} at least {_limit(rules.floor_m, rules.floor_unit or rules.unit, unit)}"]
    if rules.ceiling_measure != "sea-level":
        closest = rules.ceiling_measure == "closest-point"
        ceiling = "distance from the nearest ground" if closest else "height above ground"
        parts.append(f"{ceiling} at most {_limit(rules.ceiling_m, rules.unit, unit)}")
    if math.isfinite(rules.above_sea_level_ceiling_m):
        own = rules.sea_level_ceiling_unit or rules.unit
        limit = _limit(rules.above_sea_level_ceiling_m, own, unit)
        parts.append(f"height above sea level at most {limit}")
    return ", ".join(parts)


def sources(rules: Rules) -> tuple[str, ...]:
    """Write who wants which limit: document, section, edition, how well known.

    One line "source: ..." where one source wants all.
    """
    main = "; ".join(_main(rules))
    own = dict(_own(rules))
    if not any(own.values()):
        return (f"source: {main}",)
    lines = [f"{limit}: {source or main}" for limit, source in own.items()]
    if all(own.values()):
        lines.append(f"{rules.based_on or 'rules'}: {main}")
    return tuple(lines)


def _main(rules: Rules) -> Iterator[str]:
    yield rules.source
    if rules.edition is not None:
        yield f"edition: {rules.edition}"
    if rules.known is not None:
        yield rules.known


def _own(rules: Rules) -> Iterator[tuple[str, str | None]]:
    """Yield each limit with its own source; None where it is that of the rules."""
    yield "ceiling", rules.ceiling_source
    if rules.sea_level_ceiling_m is not None:
        yield "ceiling above sea level", rules.sea_level_ceiling_source
    yield "floor", rules.floor_source


def _limit(value_m: float, own: str, unit: str) -> str:
    text = words.with_unit(words.stated(value_m, unit), unit)
    if own == unit:
        return text
    return f"{text} ({words.with_unit(words.stated(value_m, own), own)})"
