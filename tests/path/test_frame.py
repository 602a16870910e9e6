"""Lengths on the ground: published geodesics, and the local metric frame."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from terrain_guard.path.frame import LocalFrame, geodesic
from terrain_guard.plan.route import Launch, Place, Route, Turns, Waypoint
from tests import reference
from tests.path.routes import flown

# ------------------------------------------------------------ published lengths

FLINDERS_PEAK = (144 + 25 / 60 + 29.52440 / 3600, -(37 + 57 / 60 + 3.72030 / 3600))
BUNINYONG = (143 + 55 / 60 + 35.38390 / 3600, -(37 + 39 / 60 + 10.15610 / 3600))

# (from, to, metres, how far off at most): longitude and latitude in degrees.
PUBLISHED = {
    # Geocentric Datum of Australia Technical Manual (ICSM), the worked example of Vincenty's
    # formulae: 54972.271 m. Cited second-hand; GRS80 there, whose length here is that of WGS 84.
    "Flinders Peak to Buninyong": (FLINDERS_PEAK, BUNINYONG, 54972.271, 0.001),
    # GeographicLib's documentation, the example of its program GeodSolve.
    "JFK to LHR": ((-73.8, 40.6), (-0.5, 51.6), 5551759.400, 0.001),
    # Second-hand (a web page that solves Vincenty's formulae).
    "Land's End to John o'Groats": ((-5.71475, 50.06632), (-3.07009, 58.64402), 969954.166, 0.001),
    # Vincenty's near-antipodal pair, second-hand.
    "near-antipodal": ((0.0, 0.0), (179.5, 0.5), 19936288.579, 0.001),
    # GeographicLib's documentation (from memory, checked with geographiclib).
    "Wellington to Salamanca": ((174.81, -41.32), (-5.50, 40.96), 19959679.267, 0.001),
    # WGS 84: a pi / 180, and the meridian's closed form (NIMA TR8350.2 gives the constants).
    "a degree of the equator": ((0.0, 0.0), (1.0, 0.0), 6378137.0 * np.pi / 180, 1e-6),
    "a degree of latitude at the equator": ((0.0, 0.0), (0.0, 1.0), 110574.389, 0.001),
    "a degree of latitude at 45": ((7.0, 45.0), (7.0, 46.0), 111141.548, 0.001),
    "a degree of longitude at 45": ((7.0, 45.0), (8.0, 45.0), 78846.335, 0.001),
    "quarter meridian": ((30.0, 0.0), (30.0, 90.0), 10001965.729, 0.001),
    # 0.002 degrees of the equator, across the antimeridian: 222.639 m, not 40,000 km.
    "over the antimeridian": ((179.999, 0.0), (-179.999, 0.0), 6378137.0 * np.pi / 90000, 1e-6),
}


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_lengths(name: str) -> None:
    """The geodesic used gives the published length, either way round."""
    start, end, length_m, tolerance_m = PUBLISHED[name]
    lon, lat = zip(start, end, strict=True)
    assert geodesic(lon, lat) == pytest.approx(length_m, abs=tolerance_m)
    assert geodesic(lon[::-1], lat[::-1]) == pytest.approx(length_m, abs=tolerance_m)


def test_lengths_of_random_pairs() -> None:
    """Anywhere on earth the length is geographiclib's, to a micrometre."""
    random = np.random.default_rng(7)
    lon, lat = random.uniform(-180, 180, 200), np.degrees(np.arcsin(random.uniform(-1, 1, 200)))
    expected = [
        Geodesic.WGS84.Inverse(lat[k], lon[k], lat[k + 1], lon[k + 1])["s12"] for k in range(199)
    ]
    assert np.abs(geodesic(lon, lat) - expected).max() < 1e-6


@pytest.mark.parametrize("lat", [0.0, 30.0, 47.0, 60.0, 75.0, -89.0])
def test_a_hundredth_of_a_degree_of_latitude(lat: float) -> None:
    """A hundredth of a degree of latitude is 1106 m to 1117 m at any latitude.

    A web map's metres would make it 1113 m at the equator and 2226 m at 60 degrees.
    """
    frame = LocalFrame.around([7.0, 7.0], [lat, lat + 0.01])
    east, north = frame.to_local([7.0, 7.0], [lat, lat + 0.01])
    assert 1105 < np.hypot(np.diff(east), np.diff(north))[0] < 1118
    assert 1105 < geodesic([7.0, 7.0], [lat, lat + 0.01])[0] < 1118


# ------------------------------------------------------------ the frame

CENTRES = {
    "equator": (0.0, 0.0),
    "45 north": (7.0, 45.0),
    "38 south": (144.4, -37.9),
    "70 north": (20.0, 70.0),
    "84 south": (-60.0, -84.0),
    "near the pole": (10.0, 89.95),
    "antimeridian, east": (179.999, -16.5),
    "antimeridian, west": (-179.999, 65.0),
}


@pytest.mark.parametrize("name", CENTRES)
def test_frame_is_true_from_its_centre(name: str) -> None:
    """East and north are geodesic distance times sine, cosine of azimuth (Snyder, ch. 25)."""
    lon, lat = CENTRES[name]
    frame = LocalFrame(lon_deg=lon, lat_deg=lat)
    for azimuth in np.arange(0.0, 360.0, 17.0):
        place = Geodesic.WGS84.Direct(lat, lon, azimuth, 9000.0)
        east, north = frame.to_local([place["lon2"]], [place["lat2"]])
        assert east[0] == pytest.approx(9000 * np.sin(np.radians(azimuth)), abs=1e-5)
        assert north[0] == pytest.approx(9000 * np.cos(np.radians(azimuth)), abs=1e-5)


@pytest.mark.parametrize("name", CENTRES)
def test_frame_there_and_back(name: str) -> None:
    """To metres and back is the same place to a hundredth of a millimetre, 100 km out."""
    lon, lat = CENTRES[name]
    frame = LocalFrame(lon_deg=lon, lat_deg=lat)
    random = np.random.default_rng(1)
    x, y = random.uniform(-70_000, 70_000, (2, 500))
    back = frame.to_local(*frame.to_degrees(x, y))
    assert np.hypot(back[0] - x, back[1] - y).max() < 1e-5
    lons, lats = frame.to_degrees(x, y)
    assert (np.abs(lons) <= 180).all()
    assert (np.abs(lats) <= 90).all()


@pytest.mark.parametrize(
    ("lon", "lat", "centre"),
    [
        ([10.0, 11.0], [45.0, 46.0], (10.5, 45.5)),
        ([179.0, -179.0], [0.0, 0.0], (180.0, 0.0)),
        ([-179.0, 179.5], [0.0, 0.0], (-179.75, 0.0)),
        ([-179.9, -179.5], [-16.0, -17.0], (-179.7, -16.5)),
        ([5.0], [60.0], (5.0, 60.0)),
        ([5.0, 5.0, 9.0], [60.0, 60.0, 61.0], (7.0, 60.5)),  # not their mean
    ],
)
def test_middle_of_the_points(
    lon: list[float], lat: list[float], centre: tuple[float, float]
) -> None:
    """The frame lies in the middle of its points, over the antimeridian too."""
    frame = LocalFrame.around(lon, lat)
    assert (frame.lon_deg - centre[0] + 180) % 360 - 180 == pytest.approx(0.0, abs=1e-9)
    assert frame.lat_deg == pytest.approx(centre[1])


# ------------------------------------------------------------ straight legs are as long as they are


def straight_route(lon: float, lat: float, azimuth: float, length_m: float) -> Route:
    """Return a level route of one leg with its middle somewhere on earth, launched at its start."""
    ends = [Geodesic.WGS84.Direct(lat, lon, azimuth + turn, length_m / 2) for turn in (180.0, 0.0)]
    places = [((end["lon2"] + 180) % 360 - 180, end["lat2"]) for end in ends]
    return Route(
        title="straight",
        heights="launch",
        height_unit="m",
        launch=Launch(lon_deg=places[0][0], lat_deg=places[0][1]),
        home=Place(lon_deg=places[0][0], lat_deg=places[0][1]),
        waypoints=tuple(
            Waypoint(name=f"w{k}", lon_deg=place[0], lat_deg=place[1], height_m=80, speed_m_per_s=9)
            for k, place in enumerate(places)
        ),
        turns=Turns(kind="stop"),
    )


@pytest.mark.parametrize("azimuth", [0.0, 37.0, 90.0, 163.0, 250.0])
@pytest.mark.parametrize("name", CENTRES)
def test_sum_of_steps_is_the_leg(name: str, azimuth: float) -> None:
    """The horizontal steps of a leg of 19 km add up to geographiclib's length, to 1e-6.

    In the frame, and as places in degrees: from sample to sample by pyproj, and
    every 500 samples by geographiclib.
    """
    drawn = straight_route(*CENTRES[name], azimuth, 19_000.0)
    (curve,) = flown(drawn).legs
    first, last = drawn.waypoints
    inverse = Geodesic.WGS84.Inverse(first.lat_deg, first.lon_deg, last.lat_deg, last.lon_deg)
    in_frame = np.hypot(np.diff(curve.x_m), np.diff(curve.y_m)).sum()
    assert in_frame == pytest.approx(inverse["s12"], rel=1e-6)
    assert geodesic(curve.lon_deg, curve.lat_deg).sum() == pytest.approx(inverse["s12"], rel=1e-6)
    end = curve.x_m.size - 1
    some = np.append(np.arange(0, end, 500), end)
    by_other = reference.geodesic_length_m(curve.lon_deg[some], curve.lat_deg[some])
    assert by_other == pytest.approx(inverse["s12"], rel=1e-6)


@pytest.mark.parametrize("name", CENTRES)
def test_legs_beside_the_centre(name: str) -> None:
    """Legs across the radius, 10 km from the middle of the route, are long by under 1e-6."""
    lon, lat = CENTRES[name]
    corners = [Geodesic.WGS84.Direct(lat, lon, azimuth, 10_000.0) for azimuth in range(0, 361, 60)]
    places = [((c["lon2"] + 180) % 360 - 180, c["lat2"]) for c in corners]
    frame = LocalFrame(lon_deg=lon, lat_deg=lat)
    east, north = frame.to_local(*zip(*places, strict=True))
    lengths = np.hypot(np.diff(east), np.diff(north))
    assert lengths == pytest.approx(geodesic(*zip(*places, strict=True)), rel=1e-6)
