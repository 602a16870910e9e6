"""The way home, sight and link on a terminal: leg by leg, then what decides.

::

    LEG   return height needed, where, metres that fail | sight | link
    Home       each way home in play: from how much of the flight it passes
    Height     the one that serves the whole flight, and what the ceiling leaves
    Link loss  each action: from how much of the flight it passes
    Sight      who sees it, and where not
    Link       where ground stands in its line
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from terrain_guard.report import words
from terrain_guard.report.home_words import PATHS, action_name, spans_text
from terrain_guard.report.wrapping import WIDTH, row

if TYPE_CHECKING:
    from terrain_guard.assessment import (
        Assessment,
        ComingHome,
        LegHome,
        Link,
        LossAction,
        ReturnHeight,
        Watcher,
        WayHome,
    )

RULE: Final = "-" * WIDTH
_SHORT: Final = words.NOT_ASSESSED_SHORT


def lines(assessment: Assessment, *, unit: str) -> Iterator[str]:
    """Write what was found out about coming home, sight and link.

    Parameters
    ----------
    assessment : Assessment
    unit : {"m", "ft"}

    Yields
    ------
    str
        One line of at most 80 characters.
    """
    home = assessment.coming_home
    if home is None:
        return
    yield "THE WAY HOME, SIGHT AND LINK, from every metre of the flight"
    yield from _legs(home.legs, unit)
    for label, text in _rows(home, unit):
        yield from row(label, text)


def _rows(home: ComingHome, unit: str) -> Iterator[tuple[str, str]]:
    for number, way in enumerate(home.ways):
        yield "" if number else "Home", _way(way, unit)
    yield "Height", _height(home.height, unit)
    yield "", _window(home.height, unit)
    for number, action in enumerate(home.actions):
        yield "" if number else "Link lost", _action(action, home, unit)
    yield "", _no_action(home)
    for number, watcher in enumerate(home.watchers):
        yield "" if number else "Sight", _watcher(watcher, unit)
    yield "", _standing(home, unit)
    yield "Link", _link(home.link, unit)


# ------------------------------------------------------------------ the legs


def _legs(legs: Sequence[LegHome], unit: str) -> Iterator[str]:
    yield RULE
    yield _row(f"LEG  return height {unit}", f"sight over the ray {unit}", "link, clear radii")
    yield _row(
        f"    {'needed':>7} {'at':>6} {'fails for':>9}",
        f"{'least':>7} {'at':>6} {'hidden':>8}",
        f"{'least':>6} {'at':>6} {'blocked':>8}",
    )
    yield RULE
    for one in legs:
        need, sight, link = (
            _at(at_m, unit)
            for at_m in (one.return_needed_at_m, one.sight_least_at_m, one.link_least_at_m)
        )
        yield _row(
            f"{one.leg:>3} {_up(one.return_needed_m, unit):>7} {need:>6}"
            f" {_metres(one.return_failing_m, unit):>9}",
            f"{_down(one.sight_least_m, unit):>7} {sight:>6} {_metres(one.hidden_m, unit):>8}",
            f"{_ratio(one.link_least_ratio):>6} {link:>6} {_metres(one.blocked_m, unit):>8}",
        )
    yield RULE
    legend = (
        "needed: typed, with margins, to come home by climbing first. fails for, hidden, blocked: "
        f"{unit} of the leg, as it is set to come home. at: along the flight. Sight is the "
        "pilot's; radii are those of the first Fresnel zone."
    )
    yield from textwrap.wrap(legend, WIDTH)


def _row(home: str, sight: str, link: str) -> str:
    return f"{home:<28} | {sight:<23} | {link}".rstrip()


def _up(value_m: float, unit: str) -> str:
    return "--" if value_m == -math.inf else words.up(value_m, unit)


def _down(value_m: float, unit: str) -> str:
    return "--" if value_m == math.inf else words.down(value_m, unit)


def _at(along_m: float, unit: str) -> str:
    return "" if math.isnan(along_m) else words.where(along_m, unit)


def _metres(length_m: float, unit: str) -> str:
    return "-" if length_m <= 0 else words.up(length_m, unit)


def _ratio(ratio: float) -> str:
    if math.isinf(ratio):
        return "--"
    return _SHORT if math.isnan(ratio) else f"{math.floor(ratio * 10 + 1e-9) / 10 + 0.0:.1f}"


# ------------------------------------------------------------- the way home


def _share(passes_m: float, total_m: float, unit: str) -> str:
    if passes_m >= total_m - 1e-6:
        return f"from all {words.with_unit(words.up(total_m, unit), unit)}"
    passes = words.with_unit(words.down(passes_m, unit), unit)
    return f"from {passes} of {words.with_unit(words.up(total_m, unit), unit)}"


def _way(way: WayHome, unit: str) -> str:
    shares = way.shares
    text = f"{PATHS[way.path]}, to {way.to}: passes {_share(shares.passes_m, shares.total_m, unit)}"
    if shares.tight_m > 0:
        text += (
            f", of these {words.with_unit(words.up(shares.tight_m, unit), unit)} without margins"
        )
    if shares.not_assessed_m > 0:
        unknown = words.with_unit(words.up(shares.not_assessed_m, unit), unit)
        text += f"; NOT ASSESSED from {unknown}"
    if way.failing:
        text += f"; fails begun at {spans_text(way.failing, unit)}"
    worst = way.worst
    if worst is None or shares.passes_m >= shares.total_m - 1e-6:
        return text
    begun = words.with_unit(words.where(worst.begun_m, unit), unit)
    far = words.with_unit(words.where(worst.far_m, unit), unit)
    place = words.place(worst.lat_deg, worst.lon_deg)
    if worst.above_ground_m < 0:
        depth = words.with_unit(words.up(-worst.above_ground_m, unit), unit)
        what = f"runs {depth} deep into the ground"
    else:
        higher = words.with_unit(words.up(-worst.room_m, unit), unit)
        what = f"has to be {higher} higher for the ground"
    text += f"; worst begun at {begun}: {what} {far} from {way.to} ({place})"
    if way.least_gradient is None or math.isnan(way.least_gradient):
        return text
    if math.isinf(way.least_gradient):
        return f"{text}; there it starts too near the ground for any climb on the way"
    steep = math.ceil(way.least_gradient * 100) / 100
    return f"{text}; a climb of {steep:.2f} m per metre forward would clear it from there"


def _height(height: ReturnHeight, unit: str) -> str:
    if math.isnan(height.needed_m):
        return "to come home by climbing first: not known, ground is missing on some way"
    if height.needed_m == -math.inf:
        return "to come home by climbing first: any, all of the flight is above the spot"
    text = (
        "typed, to come home by climbing first from every metre: at least "
        f"{words.with_unit(words.up(height.needed_assured_m, unit), unit)}"
        f" ({words.with_unit(words.up(height.needed_m, unit), unit)} as computed)"
    )
    ground = height.needed_by
    if ground is not None:
        far = words.with_unit(words.where(ground.far_m, unit), unit)
        begun = words.with_unit(words.where(ground.begun_m, unit), unit)
        text += f", for the ground {far} out on the way begun at {begun}"
    if height.set_m is None:
        return f"{text}; way_home.height is not stated"
    return f"{text}; set: {words.with_unit(words.stated(height.set_m, unit), unit)}"


def _window(height: ReturnHeight, unit: str) -> str:
    if math.isinf(height.highest_m) or math.isnan(height.highest_m):
        return ""
    most = words.with_unit(words.down(height.highest_assured_m, unit), unit)
    nominal = words.with_unit(words.down(height.highest_m, unit), unit)
    text = f"the ceiling allows at most {most} ({nominal} as computed)"
    if height.is_open or math.isnan(height.needed_m):
        return text
    over = words.with_unit(words.up(height.above_ceiling_m, unit), unit)
    by = words.with_unit(words.up(height.above_ceiling_by_m, unit), unit)
    under = words.with_unit(words.up(height.below_floor_m, unit), unit)
    under_by = words.with_unit(words.up(height.below_floor_by_m, unit), unit)
    return (
        f"{text}: no height keeps floor and ceiling, with margins, from every metre. The price: "
        f"at the least height ways from {over} of the flight pass above the ceiling, by {by} at "
        f"most; at the greatest, ways from {under} come too near the ground, by {under_by} at "
        "most. Or launch elsewhere, or fly in two parts"
    )


# ------------------------------------------------------------ the lost link


def _action(action: LossAction, home: ComingHome, unit: str) -> str:
    shares = action.shares
    name = action_name(action.go_to, action.then)
    set_words = "as set: " if action.is_set else "not set: " if _some_set(home) else ""
    text = f"{set_words}{name}: passes {_share(shares.passes_m, shares.total_m, unit)}"
    if action.with_link_lost:
        text += (
            "; FAILS WHERE GROUND STANDS IN THE LINK'S LINE, TOO: lost at "
            f"{spans_text(action.with_link_lost, unit)}"
        )
    elif action.failing:
        text += f"; fails if lost at {spans_text(action.failing, unit)}"
    return text


def _some_set(home: ComingHome) -> bool:
    return any(action.is_set for action in home.actions)


def _no_action(home: ComingHome) -> str:
    least, most = home.delays_s
    delay = f"{least:g} s" if least == most else f"{least:g} to {most:g} s"
    said = "as stated" if home.delay_is_stated else "assumed"
    text = f"acting {delay} after the link is lost ({said}), and stopping first"
    if not _some_set(home):
        text += "; link_loss.go_to is not stated: ask what the aircraft does"
    if all(action.shares.passes_m < action.shares.total_m - 1e-6 for action in home.actions):
        text += ". No single action passes everywhere"
    return text


# ------------------------------------------------------------ sight and link


def _watcher(watcher: Watcher, unit: str) -> str:
    eye = words.with_unit(words.stated(watcher.eye_m, unit), unit)
    text = f"{watcher.who} ({words.place(watcher.lat_deg, watcher.lon_deg)}, eye {eye} up): "
    shares = watcher.shares
    if watcher.lost:
        hidden = words.with_unit(words.up(shares.breach_m, unit), unit)
        text += f"HIDDEN for {hidden}, {spans_text(watcher.lost, unit, clock=True)}"
        least = words.with_unit(words.up(-watcher.least_m, unit), unit)
        at = words.with_unit(words.where(watcher.least_at_m, unit), unit)
        far = words.with_unit(words.where(watcher.hidden_far_m, unit), unit)
        text += f"; at most {least} below the ray over the ground {far} off, at {at}"
    elif shares.not_assessed_m <= 0:
        text += "nothing of the ground hides it"
    if shares.tight_m > 0:
        tight = words.with_unit(words.up(shares.tight_m, unit), unit)
        text += f"; seen only without margins for {tight}"
    if shares.not_assessed_m > 0:
        unknown = words.with_unit(words.up(shares.not_assessed_m, unit), unit)
        text += f"; NOT ASSESSED for {unknown}"
    return f"{text}; {_distance(watcher, unit)}"


def _distance(watcher: Watcher, unit: str) -> str:
    far = words.with_unit(words.up(watcher.farthest_m, unit), unit)
    at = words.with_unit(words.where(watcher.farthest_at_m, unit), unit)
    text = f"farthest {far}, at {at}"
    if watcher.limit_m is None:
        return f"{text}: how far off it is seen is not stated ({watcher.limit_source})"
    limit = words.with_unit(words.down(watcher.limit_m, unit), unit)
    if watcher.beyond:
        return (
            f"{text}: TOO FAR OFF to be seen, {spans_text(watcher.beyond, unit, clock=True)}; "
            f"limit {limit} ({watcher.limit_source})"
        )
    return f"{text}, within {limit} ({watcher.limit_source})"


def _standing(home: ComingHome, unit: str) -> str:
    if not home.standing:
        return ""
    parts = []
    for place in home.standing:
        away = words.with_unit(words.where(place.away_m, unit), unit)
        hidden = (
            "nothing" if place.hidden_m <= 0 else f"about {words.up(place.hidden_m, unit)} {unit}"
        )
        parts.append(
            f"{away} off towards {place.bearing_deg:.0f} degrees "
            f"({words.place(place.lat_deg, place.lon_deg)}): {hidden} hidden"
        )
    return f"better places to stand: {'; '.join(parts)}"


def _link(link: Link, unit: str) -> str:
    assumed = ", assumed" if link.is_assumed else ""
    antenna = words.with_unit(words.stated(link.antenna_m, unit), unit)
    text = f"{link.ghz:g} GHz{assumed}, antenna {antenna} up: "
    if link.blocked:
        blocked = words.with_unit(words.up(link.shares.breach_m, unit), unit)
        far = words.with_unit(words.where(link.far_m, unit), unit)
        at = words.with_unit(words.where(link.least_at_m, unit), unit)
        text += (
            f"ground STANDS IN ITS LINE for {blocked}, {spans_text(link.blocked, unit, clock=True)}"
            f"; at worst at {at}, over the ground {far} off: {_ratio(link.least_ratio)} Fresnel "
            f"radii, {link.loss_db:.0f} dB lost over one edge"
        )
    elif not math.isnan(link.least_ratio):
        text += f"its line is clear of ground, by {_ratio(link.least_ratio)} Fresnel radii or more"
    if link.shares.tight_m > 0:
        tight = words.with_unit(words.up(link.shares.tight_m, unit), unit)
        text += f"; less than 0.6 radii clear for {tight}"
    if link.shares.not_assessed_m > 0:
        unknown = words.with_unit(words.up(link.shares.not_assessed_m, unit), unit)
        text += f"; NOT ASSESSED for {unknown}"
    return f"{text}. Geometry alone, no promise of range"
