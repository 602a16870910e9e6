"""All of it, from every metre: the ways home, the one height, a lost link, sight and radio.

::

    every metre flown ──▶ rays to home, pilot, observers ──▶ needs, sight, link
                                                                   │
          findings ◀── stretches ◀── states on the reference ◀─────┘
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from terrain_guard.arrays import Floats, Ints
from terrain_guard.assessment import (
    ComingHome,
    EveryMetre,
    Finding,
    LegHome,
    LossAction,
    ReturnHeight,
    Samples,
    StandingPlace,
    WayHome,
)
from terrain_guard.checks.home.actions import Outcomes, loss_actions
from terrain_guard.checks.home.begun import Begun
from terrain_guard.checks.home.destinations import (
    Destination,
    column_radius_m,
    destinations,
    spot_code,
)
from terrain_guard.checks.home.height import return_height
from terrain_guard.checks.home.home_findings import Teller
from terrain_guard.checks.home.homeward import Judged, WayJudge, paths_in_play
from terrain_guard.checks.home.landing import landing
from terrain_guard.checks.home.margins import MarginsBelow
from terrain_guard.checks.home.needed import least_gradient
from terrain_guard.checks.home.needs import Needs
from terrain_guard.checks.home.told import fails, shares, spans
from terrain_guard.checks.home.worst import Worst, in_the_way, worst_place
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, WITHIN
from terrain_guard.checks.launching import deck_m
from terrain_guard.checks.near_route import greatest
from terrain_guard.checks.sight.standing import standing_places
from terrain_guard.checks.sight.watchers import (
    link_told,
    nobody_sees,
    sight_codes,
    sight_limit,
    watcher,
    watching,
)
from terrain_guard.checks.sight.watching import UNSTATED_GHZ, Seen, Targets, linked, watched
from terrain_guard.checks.site import Site
from terrain_guard.checks.views import View
from terrain_guard.path.pen import climb_gradient

LEAST_ENOUGH_M = 30.0
"""A way with more room than this, and than twice the greatest margin of the flight, is within."""


def coming_home(
    site: Site, begun: Begun, *, box: str
) -> tuple[ComingHome | None, tuple[Finding, ...]]:
    """Find out how a flight comes home from every metre, who sees it, and what its link meets.

    Parameters
    ----------
    begun : Begun
        Every metre that is flown.
    box : str
        The terrain to get where some is missing.

    Returns
    -------
    coming_home : ComingHome or None
        None where the launch ground is not known.
    findings : tuple of Finding
        What fails; those that do not count enter no verdict.
    """
    if not np.isfinite(site.launch.elevation_m) or not np.isfinite(begun.flown_m).all():
        return None, ()
    return _Hall(site, begun, box).answer()


class _Hall:
    """Asks every question once, and keeps the answers together."""

    def __init__(self, site: Site, begun: Begun, box: str) -> None:
        self.site, self.begun, self.box = site, begun, box
        self.samples: Samples = begun.samples
        self.route, self.first = site.route, site.first
        self.lon, self.lat = begun.lon_deg, begun.lat_deg
        self.where = destinations(site.route)
        self.greatest_margin_m = float(np.fmax.reduce(begun.samples.floor_margin_m, initial=0.0))
        self._judges: dict[tuple[bool, str], WayJudge] = {}
        self.targets = {view.beneath.is_second: self._targets(view) for view in site.views}

    def _targets(self, view: View) -> Targets:
        lower = self.samples.floor_margin_m[self.begun.last]
        return Targets(
            lon_deg=self.lon, lat_deg=self.lat, lower_m=lower,
            elevation_m=view.beneath.level_m(self.begun.x_m, self.begun.y_m) + self.begun.flown_m,
        )  # fmt: skip

    # -- the ways home ------------------------------------------------------------------

    def _judge(self, view: View, to: Destination) -> WayJudge:
        key = view.beneath.is_second, to.name
        if key not in self._judges:
            self._judges[key] = self._new_judge(view, to)
        return self._judges[key]

    def _new_judge(self, view: View, to: Destination) -> WayJudge:
        begun, route, altimeter = self.begun, self.route, self.site.flight.altimeter
        beneath, wanted = view.beneath, view.wanted
        ground_m = float(beneath.ground.elevation(*to.place_deg)[0])
        launch_m = float(beneath.level_m(*(np.array([at]) for at in self.site.flight.launch))[0])
        here = beneath.level_m(begun.x_m, begun.y_m)
        base, high = np.minimum(here, launch_m), np.maximum(here, launch_m)
        needs = Needs(
            beneath=beneath, destination=to,
            targets=self.targets[beneath.is_second],
            column_m=column_radius_m(route), floor_m=wanted.floor_m,
            drift_m=route.way_home.drift_m or 0.0,
            spot_m=launch_m + deck_m(route) if to.name == "launch" else ground_m,
            enough_m=max(LEAST_ENOUGH_M, 2 * self.greatest_margin_m),
        )  # fmt: skip
        own = base + begun.flown_m
        height = route.way_home.height_m
        goal = own if height is None else np.maximum(own, base + altimeter.flown_m(height))
        near = needs.length_m < (route.way_home.no_climb_within_m or 0.0)
        speeds = [waypoint.speed_m_per_s for waypoint in route.waypoints]
        gradient = np.array([climb_gradient(route, speed, altimeter) for speed in speeds])
        margins = MarginsBelow(budgeter=view.budgeter, wanted=wanted, frame=self.site.flight.frame)
        return WayJudge(
            to=to.name, view=view, begun=begun, needs=needs, margins=margins,
            base_m=base, higher_m=high - base,
            goal_m=np.where(near, own, goal), gradient=np.append(gradient[:1], gradient)[begun.leg],
        )  # fmt: skip

    def _ways(self) -> Iterator[tuple[Judged, WayJudge]]:
        for view in self.site.views:
            for to in self.where:
                judge = self._judge(view, to)
                for path in paths_in_play(self.route):
                    way = judge.judged(path)
                    if view.beneath.is_second:  # what it does not know is no loss
                        way = way.with_code(np.where(way.code == NOT_ASSESSED, WITHIN, way.code))
                    yield way, judge

    def _height(self) -> tuple[ReturnHeight, Floats]:
        """Return the one height home, and what each place asks for, as typed."""
        judge = self._judge(self.first, self.where[0])
        base, altimeter = judge.base_m, self.site.flight.altimeter
        least, assured, need = judge.needed_m()
        top, assured_top = judge.highest_m()
        worst = greatest(assured)
        by = None
        if worst is not None:
            by = in_the_way(judge.judged("climb-first"), self.begun, worst, base_m=base)
        found = return_height(
            self.begun,
            needed_m=(least - base, assured - base),
            highest_m=(top - base, assured_top - base),
            is_unknown=need.is_unknown,
            needed_by=by,
            set_m=self.route.way_home.height_m,
            altimeter=altimeter,
        )
        asked = np.where(need.is_unknown, np.nan, assured - base)
        return found, (asked - altimeter.zero_m) / altimeter.factor

    # -- the answer -----------------------------------------------------------------------

    def answer(self) -> tuple[ComingHome, tuple[Finding, ...]]:
        """Ask everything, and put it together."""
        begun, samples, route = self.begun, self.samples, self.route
        judged, judges = zip(*self._ways(), strict=True)
        worst = Worst.of(
            judged, tuple(judge.base_m for judge in judges), home=self.where[0].name,
            altimeter=self.site.flight.altimeter,
        )  # fmt: skip
        height, needed = self._height()
        home_codes = begun.onto_reference(worst.code)
        seen = self._seen()
        limit = sight_limit(route)
        sight = begun.onto_reference(sight_codes(seen["pilot"], limit))
        link = linked(
            self.first.beneath, self._pilot, self._first_targets,
            ghz=route.aircraft.radio_ghz or UNSTATED_GHZ,
        )  # fmt: skip
        link_codes = begun.onto_reference(link.code)
        spot = max(spot_code(self.first.beneath, route, to) for to in self.where)
        land = landing(
            self.first.beneath, self.site.flight.frame,
            begun.x_m[: begun.reference], begun.y_m[: begun.reference],
        )  # fmt: skip
        outcomes = Outcomes(home=home_codes, spot=spot, land=land.code, flown=samples.state)
        link_lost = link_codes == BREACH
        actions = list(loss_actions(route, samples, outcomes, link_lost=link_lost))
        teller = Teller(
            route=route, begun=begun, height=height, worst=worst, landing=land, spot=spot,
            flown=samples.state, seen=seen["pilot"], linked=link, link_lost=link_lost,
            box=self.box,
        )  # fmt: skip
        every = EveryMetre(
            return_needed_m=_kept(needed[: begun.reference]),
            return_state=np.maximum(home_codes, spot),
            sight_margin_m=_kept(seen["pilot"].margin_m[: begun.reference]),
            sight_state=sight,
            link_ratio=_kept(link.radii[: begun.reference]),
            link_state=link_codes,
        )
        for name in EveryMetre.__slots__:
            getattr(every, name).setflags(write=False)
        places = watching(route)
        found = ComingHome(
            ways=tuple(self._told(way, judge) for way, judge in
                       zip(judged, judges, strict=True)),
            height=height,
            delays_s=route.link_loss.delays_s,
            delay_is_stated=route.link_loss.after_s is not None,
            actions=tuple(action for action, _ in actions),
            watchers=tuple(
                watcher(who, places[who], one, begun, limit) for who, one in seen.items()
            ),
            seen_by_nobody=spans(nobody_sees(list(seen.values()), begun), samples),
            standing=self._standing(seen["pilot"]),
            link=link_told(link, route, begun),
            legs=tuple(self._legs(every, needed, seen["pilot"].margin_m, link.radii)),
            every_metre=every,
        )  # fmt: skip
        return found, tuple(self._findings(teller, actions, home_codes, sight, link_codes))

    def _findings(
        self, teller: Teller, actions: Sequence[tuple[LossAction, Ints]], home: Ints,
        sight: Ints, link: Ints,
    ) -> Iterator[Finding]:  # fmt: skip
        require = self.site.rules.require
        stated = next(((a, codes) for a, codes in actions if a.is_set), None)
        if stated is not None:
            yield from teller.loss(stated[0], stated[1])
        if stated is None or stated[0].go_to != "launch" or "return" in require:
            yield from teller.home(np.maximum(home, teller.spot), counts="return" in require)
        yield from teller.sight(sight, counts="sight" in require)
        yield from teller.link(link, counts="link" in require)

    @property
    def _first_targets(self) -> Targets:
        return self.targets[False]

    @property
    def _pilot(self) -> tuple[float, float]:
        place = watching(self.route)["pilot"]
        return place.lon_deg, place.lat_deg

    def _seen(self) -> dict[str, Seen]:
        return {
            who: watched(
                self.first.beneath, (place.lon_deg, place.lat_deg), self._first_targets,
                self.first.budgeter.setting, canopy_m=self._hidden_canopy_m,
            )
            for who, place in watching(self.route).items()
        }  # fmt: skip

    @property
    def _hidden_canopy_m(self) -> float:
        """How high trees may stand between that no model shows."""
        models, canopy = self.site.models, self.site.canopy
        return canopy.height_m if models.seen == "ground" else 0.0

    def _standing(self, seen: Seen) -> tuple[StandingPlace, ...]:
        hidden = self.begun.onto_reference(np.where(seen.margin_m < 0, BREACH, WITHIN))
        lost = shares(hidden, self.samples).breach_m
        if not lost:
            return ()
        own = slice(0, self.begun.reference)
        targets = self._first_targets
        few = Targets(
            lon_deg=targets.lon_deg[own], lat_deg=targets.lat_deg[own],
            elevation_m=targets.elevation_m[own], lower_m=targets.lower_m[own],
        )  # fmt: skip
        return standing_places(
            self.first.beneath, watching(self.route)["pilot"], few, self.samples.along_m,
            hidden_m=lost,
        )  # fmt: skip

    def _told(self, way: Judged, judge: WayJudge) -> WayHome:
        codes = self.begun.onto_reference(way.code)
        worst = worst_place(way)
        return WayHome(
            path=way.path,
            to=way.to,
            shares=shares(codes, self.samples),
            failing=spans(fails(codes), self.samples),
            worst=None
            if worst is None
            else in_the_way(way, self.begun, worst, base_m=judge.base_m),
            least_gradient=self._least_gradient(way, worst, judge),
        )

    def _least_gradient(self, way: Judged, worst: int | None, judge: WayJudge) -> float | None:
        """Return how steep a failing climb on the way would have to be, from its worst place."""
        if worst is None or way.path != "climb-on-the-way" or not way.room_m[worst] < 0:
            return None
        to = next(one for one in self.where if one.name == way.to)
        found = []
        for model in judge.view.beneath.models.values():
            row, column = model.posts_at(
                [self.lon[worst], to.lon_deg], [self.lat[worst], to.lat_deg]
            )
            own_m = judge.own_m[worst]
            gradient, _ = least_gradient(
                model, (row[0], column[0], own_m), (row[1], column[1]),
                radius_m=judge.view.wanted.floor_m, corridor_m=self.route.way_home.drift_m or 0.0,
                from_m=column_radius_m(self.route),
            )  # fmt: skip
            found.append(float(gradient[0]))
        return max(found)

    def _legs(
        self, every: EveryMetre, needed: Floats, margin: Floats, radii: Floats
    ) -> Iterator[LegHome]:
        samples, begun = self.samples, self.begun
        for leg in range(int(samples.leg.max()) + 1):
            mine = begun.leg == leg
            own = samples.leg == leg
            need, need_at = _extreme(needed, mine, begun, most=True)
            least, least_at = _extreme(margin, mine, begun, most=False)
            ratio, ratio_at = _extreme(radii, mine, begun, most=False)
            yield LegHome(
                leg=leg,
                return_needed_m=need,
                return_needed_at_m=need_at,
                return_failing_m=_metres(fails(every.return_state) & own, samples),
                sight_least_m=least,
                sight_least_at_m=least_at,
                hidden_m=_metres((every.sight_state == BREACH) & own, samples),
                link_least_ratio=ratio,
                link_least_at_m=ratio_at,
                blocked_m=_metres((every.link_state == BREACH) & own, samples),
            )


def _extreme(values: Floats, mine: np.ndarray, begun: Begun, *, most: bool) -> tuple[float, float]:
    """Return the worst of some values and where it is; inf where nothing asks for anything."""
    sign = 1.0 if most else -1.0
    among = np.where(mine, sign * values, -np.inf)
    if np.isnan(among).any():
        return float("nan"), float("nan")
    index = int(np.argmax(among))
    if not np.isfinite(among[index]):
        return sign * -np.inf, float("nan")
    return float(values[index]), float(begun.along_m[index])


def _kept(values: Floats) -> NDArray[np.float64]:
    return np.array(values, dtype=np.float64)


def _metres(where: np.ndarray, samples: Samples) -> float:
    return float(np.diff(samples.along_m)[where[:-1]].sum())
