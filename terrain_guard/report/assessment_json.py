"""The answer as JSON: metres, unrounded, ``null`` where something was not assessed.

The keys are a contract: they may be added to, and none changes its meaning. The
JSON Schema beside this module says the same in a form that programs can check.
"""

from __future__ import annotations

import json
from importlib import resources
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.report import budget_json, cautions, home_json
from terrain_guard.report.budget_json import number

if TYPE_CHECKING:
    from terrain_guard.assessment import (
        Assessment,
        CanopyUsed,
        Extreme,
        Finding,
        LegRow,
        SecondGround,
        SurfaceTied,
        TerrainUsed,
    )
    from terrain_guard.plan.route import Route
    from terrain_guard.plan.rules import Rules

SCHEMA_NAME: Final = "terrain-guard/assessment/1"


def as_dict(assessment: Assessment) -> dict[str, Any]:
    """Return the assessment as plain dictionaries, lists, strings and numbers.

    Parameters
    ----------
    assessment : Assessment
        Metres; what is not finite becomes None.

    Returns
    -------
    dict
        Valid under `schema`.
    """
    return {
        "schema": SCHEMA_NAME,
        "verdict": str(assessment.verdict),
        "verdict_words": cautions.VERDICT_WORDS[assessment.verdict],
        "beside_verdict": cautions.beside_verdict(assessment),
        "length_m": number(assessment.length_m),
        "assessed_m": number(assessment.assessed_m),
        "route": _route(assessment.route),
        "rules": _rules(assessment.rules),
        "margins": {
            "floor_m": number(assessment.floor_margin_m),
            "ceiling_m": number(assessment.ceiling_margin_m),
            "source": assessment.margin_source,
        },
        "budget": budget_json.as_dict(assessment.budget),
        "launch": _launch(assessment),
        "terrain": [_terrain(one) for one in assessment.terrain],
        "canopy": _canopy(assessment.canopy),
        "surface": _surface(assessment.surface_tied),
        "second_ground": _second(assessment.second_ground),
        "terrain_to_get": assessment.terrain_to_get,
        "curves": list(assessment.curves),
        "legs": _legs(assessment),
        "coming_home": home_json.as_dict(assessment.coming_home),
        "findings": [_finding(one) for one in assessment.findings],
        "cautions": list(cautions.all_cautions(assessment)),
        "not_checked": list(assessment.not_checked),
        "assumed": list(assessment.assumed),
    }


def text(assessment: Assessment) -> str:
    """Return the assessment as strict JSON (RFC 8259), ending in a line break."""
    return json.dumps(as_dict(assessment), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of `as_dict`, as shipped with the package."""
    file = resources.files("terrain_guard.report") / "assessment.schema.json"
    shipped: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return shipped


def _route(route: Route) -> dict[str, Any]:
    return {
        "title": route.title,
        "file": route.source,
        "sha256": route.sha256,
        "heights": route.heights,
        "height_unit": route.height_unit,
    }


def _rules(rules: Rules) -> dict[str, Any]:
    return {
        "name": rules.name,
        "source": rules.source,
        "edition": rules.edition,
        "known": rules.known,
        "set": rules.based_on,
        "origin": rules.origin,
        "floor_m": number(rules.floor_m),
        "floor_measure": rules.floor_measure,
        "floor_source": rules.floor_source or rules.source,
        "ceiling_m": number(rules.ceiling_m),
        "ceiling_measure": rules.ceiling_measure,
        "ceiling_source": rules.ceiling_source or rules.source,
        "sea_level_ceiling_m": number(rules.sea_level_ceiling_m),
        "sea_level_ceiling_source": _sea_level_source(rules),
    }


def _sea_level_source(rules: Rules) -> str | None:
    if rules.sea_level_ceiling_m is None:
        return None
    return rules.sea_level_ceiling_source or rules.source


def _launch(assessment: Assessment) -> dict[str, Any]:
    launch, shift_m = assessment.launch, assessment.survey_shift_m
    return {
        "lat": number(launch.lat_deg),
        "lon": number(launch.lon_deg),
        "elevation_m": number(launch.elevation_m),
        "elevation_source": launch.elevation_source,
        "spot_within_m": number(launch.spot_within_m),
        "model_elevation_m": number(launch.model_elevation_m),
        "survey_shift_m": None if shift_m is None else [number(one) for one in shift_m],
    }


def _canopy(canopy: CanopyUsed) -> dict[str, Any]:
    return {
        "height_m": number(canopy.height_m),
        "source": canopy.source,
        "floor_margin_m": number(canopy.floor_m),
        "ceiling_margin_m": number(canopy.ceiling_m),
        "ground_below_m": number(canopy.ground_below_m),
    }


def _surface(tied: SurfaceTied | None) -> dict[str, Any] | None:
    if tied is None:
        return None
    return {
        "offset_m": number(tied.offset_m),
        "places": tied.places,
        "bare_places": tied.bare,
        "lifted_m": number(tied.lifted_m),
    }


def _second(second: SecondGround | None) -> dict[str, Any] | None:
    if second is None:
        return None
    return {
        "files": [one.file for one in second.terrain],
        "launch_elevation_m": number(second.launch_elevation_m),
        "own_launch": second.has_own_launch,
        "floor_margin_m": number(second.floor_margin_m),
        "ceiling_margin_m": number(second.ceiling_margin_m),
        "median_m": number(second.median_m),
        "spread_m": number(second.spread_m),
        "worst_m": number(second.worst_m),
        "at_m": number(second.at_m),
        "assessed_share": number(second.assessed_share),
    }


def _terrain(terrain: TerrainUsed) -> dict[str, Any]:
    return {
        "role": terrain.role,
        "file": terrain.file,
        "size_bytes": int(terrain.size_bytes),
        "used_hash": terrain.used_hash,
        "crs": terrain.crs,
        "cell_m": [number(side) for side in terrain.cell_m],
        "kind": terrain.kind,
        "vertical_datum": terrain.vertical_datum,
        "vertical_unit": terrain.vertical_unit,
        "registration": terrain.registration,
        "void_share_read": number(terrain.void_share_read),
        "survey_date": terrain.survey_date,
        "sigma_m": number(terrain.sigma_m),
        "canopy_m": number(terrain.canopy_m),
        "card": terrain.card,
    }


def _legs(assessment: Assessment) -> list[dict[str, Any]]:
    home = assessment.coming_home
    of = {} if home is None else {one.leg: one for one in home.legs}
    return [_leg(row) | home_json.of_leg(of.get(row.leg)) for row in assessment.legs]


def _leg(row: LegRow) -> dict[str, Any]:
    return {
        "leg": int(row.leg),
        "start": row.start,
        "end": row.end,
        "from_m": number(row.from_m),
        "to_m": number(row.to_m),
        "length_m": number(row.length_m),
        "typed_length_m": number(row.typed_length_m),
        "typed_start_m": number(row.typed_start_m),
        "typed_end_m": number(row.typed_end_m),
        "state": str(row.state),
        "above_ground": _extremes(row.above_ground_min, row.above_ground_max),
        "clearance": _extremes(row.clearance_min, row.clearance_max),
    }


def _extremes(least: Extreme | None, greatest: Extreme | None) -> dict[str, Any]:
    return {"min": _extreme(least), "max": _extreme(greatest)}


def _extreme(extreme: Extreme | None) -> dict[str, Any] | None:
    if extreme is None:
        return None
    return {
        "nominal_m": number(extreme.nominal_m),
        "assured_m": number(extreme.assured_m),
        "along_m": number(extreme.along_m),
        "lat": number(extreme.lat_deg),
        "lon": number(extreme.lon_deg),
        "curve": extreme.curve,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "kind": finding.kind,
        "state": str(finding.state),
        "leg": int(finding.leg),
        "from_m": number(finding.from_m),
        "to_m": number(finding.to_m),
        "worst_m": number(finding.worst_m),
        "at_m": number(finding.at_m),
        "time_s": number(finding.time_s),
        "lat": number(finding.lat_deg),
        "lon": number(finding.lon_deg),
        "curve": finding.curve,
        "message": finding.message,
        "counts": finding.counts,
    }
