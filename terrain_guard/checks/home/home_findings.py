"""Findings about coming home, a lost link, sight and radio, each in one sentence.

First of all what comes together: the link is lost behind ground that then stands in the way
home, too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.assessment import Finding, GroundInTheWay, LossAction, ReturnHeight
from terrain_guard.checks.home.begun import Begun
from terrain_guard.checks.home.landing import COVER_M, TOO_STEEP_DEG, Landing
from terrain_guard.checks.home.worst import Worst
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, runs
from terrain_guard.checks.sight.watching import Linked, Seen
from terrain_guard.path.frame import geodesic
from terrain_guard.plan.route import Route
from terrain_guard.states import SEVERITY
from terrain_guard.units import text_up

NEAR_M = 250.0
"""Ground this near to a waypoint is named after it."""
BLOCKED = "link-loss-blocked"
"""The link is lost behind ground, and what that sets off fails there."""
PATHS = {
    "climb-first": "climbing first",
    "climb-on-the-way": "climbing on the way",
    "slanting": "slanting down",
    "level": "level",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Teller:
    """What sentences need; states are (n,) over the reference's samples."""

    route: Route
    begun: Begun
    height: ReturnHeight
    worst: Worst
    landing: Landing
    spot: int  # the landing column at home
    flown: Ints
    seen: Seen
    linked: Linked
    link_lost: Bools
    box: str  # of terrain to get

    def loss(self, action: LossAction, codes: Ints) -> Iterator[Finding]:
        """Yield where the action that is set fails; first where the link is lost there, too."""
        kinds = np.where(codes == BREACH, 1 + self.link_lost, 0)
        for kind in (2, 1):
            for first, last in self._stretches(kinds == kind):
                worst = self._worst_acted_on(first, last)
                yield self._finding(
                    BLOCKED if kind == 2 else "link-loss", BREACH, first, last,
                    at=worst, value=self._room(worst, action),
                    message=self._lost(kind == 2, action, worst), counts=True,
                )  # fmt: skip
        for code in (NOT_ASSESSED, 1):
            for first, last in self._stretches(codes == code):
                worst = self._worst_acted_on(first, last)
                yield self._finding(
                    "link-loss", code, first, last, at=worst,
                    message=self._unproven(code, action, worst), counts=True,
                )  # fmt: skip

    def home(self, codes: Ints, *, counts: bool) -> Iterator[Finding]:
        """Yield where coming home by command, or on a low battery, fails."""
        for code in (BREACH, NOT_ASSESSED):
            for first, last in self._stretches(codes == code):
                worst = self._worst_begun(first, last)
                breaks = code == BREACH
                said = (
                    self._way_home(worst)
                    if breaks
                    else self._not_known("a way home from here", worst)
                )
                yield self._finding(
                    "return", code, first, last, at=worst, value=self._value(worst, breaks),
                    message=f"begun here, {said}" if breaks else said, counts=counts,
                )  # fmt: skip

    def sight(self, codes: Ints, *, counts: bool) -> Iterator[Finding]:
        """Yield where the pilot loses sight of it."""
        for code in (BREACH, NOT_ASSESSED, *((1,) if counts else ())):
            for first, last in self._stretches(codes == code):
                worst = self._least_of(self.seen.margin_m, first, last)
                margin = float(self.seen.margin_m[worst])
                if code == NOT_ASSESSED:
                    said = self._missing("the line of sight from the pilot")
                elif code == BREACH and margin < 0:
                    ground = self._ground(self.seen.lat_deg, self.seen.lon_deg, worst)
                    far = text_up(float(self.seen.far_m[worst]), digits=0)
                    said = (
                        f"hidden from the pilot by {ground}, {far} m off: at worst "
                        f"{text_up(-margin)} m below the ray that grazes it"
                    )
                elif code == BREACH:
                    slant = text_up(float(self.seen.slant_m[first:last].max()), digits=0)
                    said = f"too far off to be seen by the pilot: up to {slant} m"
                else:
                    said = "seen by the pilot, but not with margins"
                yield self._finding(
                    "sight", code, first, last, at=worst, message=said, counts=counts,
                    value=margin if code == BREACH else np.nan,
                )  # fmt: skip

    def link(self, codes: Ints, *, counts: bool) -> Iterator[Finding]:
        """Yield where ground stands in the link's line."""
        for code in (BREACH, NOT_ASSESSED, *((1,) if counts else ())):
            for first, last in self._stretches(codes == code):
                worst = self._least_of(self.linked.radii, first, last)
                ground = self._ground(self.linked.lat_deg, self.linked.lon_deg, worst)
                far = text_up(float(np.nan_to_num(self.linked.far_m[worst])), digits=0)
                said = {
                    BREACH: f"{ground}, {far} m off, stands in the line of the radio link",
                    NOT_ASSESSED: self._missing("the line of the radio link"),
                }.get(code, "the line of the radio link is less than 0.6 Fresnel radii clear")
                yield self._finding(
                    "link", code, first, last, at=worst, message=said, counts=counts,
                    value=float(self.linked.radii[worst]) if code == BREACH else np.nan,
                )  # fmt: skip

    # -- sentences --------------------------------------------------------------------

    def _lost(self, link_lost: bool, action: LossAction, worst: int) -> str:
        """Say what a lost link sets off; the compound sentence where the link is lost there."""
        begun = "the link lost here"
        if link_lost:
            place = self._worst_link(worst)
            ground = self._ground(self.linked.lat_deg, self.linked.lon_deg, place)
            hides = "hides it from the pilot and " if self.seen.margin_m[place] < 0 else ""
            begun = f"{ground} {hides}takes the link here"
        if action.go_to == "launch":
            return f"{begun}, and {self._way_home(worst)}"
        if action.go_to == "onward":
            return f"{begun}, and the flight that it goes on with breaks its limits ahead"
        if action.then == "land":
            return f"{begun}, and {self._no_landing(worst)}"
        if int(self.landing.code[self._sample(worst)]) == BREACH:
            return f"{begun}, it waits until it has to land, and {self._no_landing(worst)}"
        return f"{begun}, it waits until it has to come home, and {self._way_home(worst)}"

    def _way_home(self, worst: int) -> str:
        """Say how the worst way home from a place fails, and what height would do."""
        ground = self.worst.ground(self.begun, worst)
        judged = self.worst.way(worst)
        if self.spot == BREACH and judged.code[worst] != BREACH:
            return "at home something stands in the column kept clear for landing"
        how = f"coming home {PATHS[judged.path]} to {judged.to}"
        if not judged.room_m[worst] < 0:
            excess = text_up(float(judged.excess_m[worst]))
            return f"{how} it passes {excess} m above the ceiling"
        height = text_up(self.height_typed(ground.way_m))
        where = self._named(ground)
        if ground.above_ground_m < 0:
            depth = text_up(-ground.above_ground_m)
            said = f"{how} at {height} m it flies into {where}, {depth} m below its top"
        else:
            near = text_up(-ground.room_m)
            said = f"{how} at {height} m it passes too near to {where}: {near} m higher needed"
        return f"{said}; {self._remedy()}"

    def _remedy(self) -> str:
        needed, height = self.height.needed_assured_m, self.height
        if not np.isfinite(needed):
            return "what height would do is not known"
        said = f"climb to {text_up(needed)} m first"
        if height.is_open:
            return f"{said}, from there every metre of the flight comes home"
        return f"{said}, which breaks the ceiling on the way, or launch elsewhere"

    def height_typed(self, above_launch_m: float) -> float:
        """Return a height as it is typed."""
        return self.worst.altimeter.typed_m(above_launch_m)

    def _named(self, ground: GroundInTheWay) -> str:
        near = self._near(ground.lat_deg, ground.lon_deg)
        return f"the ground{near} {text_up(ground.far_m, digits=0)} m from {self.worst.home}"

    def _ground(self, lat_deg: Floats, lon_deg: Floats, index: int) -> str:
        if not np.isfinite(lat_deg[index]):
            return "ground"
        return f"the ground{self._near(float(lat_deg[index]), float(lon_deg[index]))}"

    def _near(self, lat_deg: float, lon_deg: float) -> str:
        """Name the nearest waypoint, if it is near."""
        away = [
            float(geodesic([w.lon_deg, lon_deg], [w.lat_deg, lat_deg])[0])
            for w in self.route.waypoints
        ]
        nearest = int(np.argmin(away))
        return f" near {self.route.waypoints[nearest].name}" if away[nearest] <= NEAR_M else ""

    def _no_landing(self, worst: int) -> str:
        sample = self._sample(worst)
        slope, cover = self.landing.slope_deg[sample], self.landing.cover_m[sample]
        if slope >= TOO_STEEP_DEG:
            return f"it lands on ground of {text_up(float(slope), digits=0)} degrees"
        if cover > COVER_M:
            return f"it lands among what stands {text_up(float(cover))} m high"
        return "it lands where the ground is not known"

    def _unproven(self, code: int, action: LossAction, worst: int) -> str:
        if code == NOT_ASSESSED:
            return self._not_known("what a lost link sets off here", worst)
        if action.go_to == "here" and action.then == "land":
            return (
                "it lands where it is: water, people and wires are in no model, so that this is "
                "never better than tight"
            )
        return "what a lost link sets off here passes as computed, but not with margins"

    def _not_known(self, what: str, worst: int) -> str:
        """Say why a way home could not be judged."""
        judged = self.worst.way(worst)
        if judged.excess_m[worst] > 0 and not judged.need.is_unknown[worst]:
            excess = text_up(float(judged.excess_m[worst]))
            return (
                f"{what} passes {excess} m above the ceiling straight down; whether it keeps it to "
                "the closest point of the ground is not looked at on ways home"
            )
        return self._missing(what)

    def _missing(self, what: str) -> str:
        return f"{what} leads over ground that is not known: get terrain for {self.box}"

    # -- places -----------------------------------------------------------------------

    def _stretches(self, mask: Bools) -> list[tuple[int, int]]:
        """Return (first, last) samples of each stretch of the reference in which a mask holds."""
        along = self.begun.samples.along_m
        found = runs(mask[:-1], np.zeros(mask.size - 1, dtype=np.int64))
        return [(a, b) for a, b in found if along[b] > along[a]]

    def _between(self, first: int, last: int, *, later_s: float = 0.0) -> Ints:
        """Return the places begun at between two samples, or a time after them."""
        samples, begun = self.begun.samples, self.begun
        inside = (begun.along_m >= samples.along_m[first] - 1e-6) & (
            begun.time_s <= samples.time_s[last] + later_s + 1e-6
        )
        found = np.flatnonzero(inside)
        return found if found.size else np.array([first])

    def _worst_begun(self, first: int, last: int, *, later_s: float = 0.0) -> int:
        among = self._between(first, last, later_s=later_s)
        order = np.lexsort((self.worst.room_m[among], -self.worst.code[among]))
        return int(among[order[0]])

    def _worst_acted_on(self, first: int, last: int) -> int:
        return self._worst_begun(first, last, later_s=self.route.link_loss.delays_s[1])

    def _worst_link(self, near: int) -> int:
        samples = self.begun.samples
        sample = int(np.searchsorted(samples.along_m, self.begun.along_m[near]))
        lost = np.flatnonzero(self.linked.radii[: self.begun.reference] < 0)
        return int(lost[np.argmin(np.abs(lost - sample))]) if lost.size else near

    def _least_of(self, values: Floats, first: int, last: int) -> int:
        among = self._between(first, last)
        known = np.where(np.isnan(values[among]), np.inf, values[among])
        return int(among[np.argmin(known)])

    def _sample(self, place: int) -> int:
        """Return the reference's sample beside a place begun at."""
        along = self.begun.samples.along_m
        return int(np.clip(np.searchsorted(along, self.begun.along_m[place]), 0, along.size - 1))

    def _value(self, worst: int, breaks: bool) -> float:
        return float(self.worst.room_m[worst]) if breaks else float("nan")

    def _room(self, worst: int, action: LossAction) -> float:
        return self._value(worst, action.go_to == "launch")

    def _finding(
        self,
        kind: str,
        code: int,
        first: int,
        last: int,
        *,
        at: int,
        message: str,
        counts: bool,
        value: float = np.nan,
    ) -> Finding:
        begun, samples = self.begun, self.begun.samples
        return Finding(
            kind=kind,
            state=SEVERITY[code],
            leg=int(begun.leg[at]),
            from_m=float(samples.along_m[first]),
            to_m=float(samples.along_m[last]),
            worst_m=value if np.isfinite(value) else float("nan"),
            at_m=float(begun.along_m[at]),
            time_s=float(begun.time_s[at]),
            lat_deg=float(begun.lat_deg[at]),
            lon_deg=float(begun.lon_deg[at]),
            curve="",
            message=message,
            counts=counts,
        )
