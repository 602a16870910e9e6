"""Height above ground along a polyline: exact, against closed forms and every millimetre."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from terrain_guard.ground.bilinear import Pieces, above_ground
from terrain_guard.ground.model import Ground
from tests import reference
from tests.ground.made import COPIES, hills, places, scipy_surface, utm_raster

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.arrays import Floats, Ints


class Net:
    """Posts in memory: what the pieces are cut over when no file is needed."""

    def __init__(self, heights: Floats) -> None:
        self.heights = heights

    def posts(self, rows: Ints, columns: Ints) -> Floats:
        """Return the heights of posts, NaN outside."""
        inside = (rows >= 0) & (rows < self.heights.shape[0])
        inside &= (columns >= 0) & (columns < self.heights.shape[1])
        found = self.heights[np.where(inside, rows, 0), np.where(inside, columns, 0)]
        return np.where(inside, found, np.nan)


def pieces_over(heights: Floats, row: list[float], column: list[float], z: list[float]) -> Pieces:
    """Return the pieces of a polyline over posts in memory."""
    rows, columns = heights.shape
    return above_ground(
        Net(heights), np.array(row, float), np.array(column, float), np.array(z, float),
        (rows, columns),
    )  # fmt: skip


def coefficients(pieces: Pieces) -> list[float]:
    """Return (a0, a1, a2) of a polyline that is one piece."""
    assert (pieces.start.tolist(), pieces.stop.tolist()) == ([0.0], [1.0])
    return np.concatenate((pieces.a0, pieces.a1, pieces.a2)).tolist()


def extremes(pieces: Pieces) -> tuple[float, float, float, float]:
    """Return (least, where, most, where) over the ends of pieces and their turning points."""
    turn_at, turn_m = pieces.vertex()
    at = np.concatenate((pieces.start, pieces.stop, turn_at))
    values = np.concatenate((pieces.a0, pieces.a0 + pieces.a1 + pieces.a2, turn_m))
    least, most = int(np.nanargmin(values)), int(np.nanargmax(values))
    return float(values[least]), float(at[least]), float(values[most]), float(at[most])


def along(vertices: Floats, position: Floats) -> Floats:
    """Return values at (vertex + share) positions, linear between vertices."""
    return np.interp(position, np.arange(vertices.size), vertices)


def scipy_height(heights: Floats, polyline: tuple[Floats, Floats, Floats], at: Floats) -> Floats:
    """Return the height above SciPy's surface at positions of a polyline (row, column, z)."""
    row, column, z = (along(vertices, at) for vertices in polyline)
    return z - scipy_surface(heights, row, column)


# ------------------------------------------------------------ closed forms
# Over posts 0, 100 / 100, 0 (twist -200) the ground along the falling diagonal is
# 200 s (1 - s): 0 at both ends and 50 in the middle (bilinear by hand).

SADDLE = np.array([[0.0, 100.0], [100.0, 0.0]])


def test_diagonal_of_a_saddle() -> None:
    """A level leg at 60 m over the diagonal comes down to 10 m above ground in the middle."""
    pieces = pieces_over(SADDLE, [0, 1], [0, 1], [60, 60])
    assert coefficients(pieces) == pytest.approx([60.0, -200.0, 200.0])
    assert extremes(pieces) == pytest.approx((10.0, 0.5, 60.0, 0.0))


@pytest.mark.parametrize(
    ("level", "expected"),
    [
        (28.0, [0.2, 0.8]),  # 60 - 200 s (1 - s) = 28 at s (1 - s) = 0.16
        (22.5, [0.25, 0.75]),
        (10.0, [0.5]),  # touches
        (9.999, []),
        (60.5, []),
    ],
)
def test_where_a_saddle_leg_reaches(level: float, expected: list[float]) -> None:
    """Roots of the quadratic, by hand."""
    found = pieces_over(SADDLE, [0, 1], [0, 1], [60, 60]).reaching(level)
    assert found == pytest.approx(expected, abs=1e-7)


def test_climb_over_a_saddle() -> None:
    """From 60 m to 260 m the quadratic is 60 + 200 s²: it turns at the start, and rises."""
    pieces = pieces_over(SADDLE, [0, 1], [0, 1], [60, 260])
    assert extremes(pieces) == pytest.approx((60.0, 0.0, 260.0, 1.0))
    assert pieces.reaching(110.0) == pytest.approx([0.5])


def test_vertical_climb_is_one_piece() -> None:
    """Straight up over the middle (ground 50 m): from 10 m to 150 m, linear."""
    pieces = pieces_over(SADDLE, [0.5, 0.5], [0.5, 0.5], [60, 200])
    assert coefficients(pieces) == pytest.approx([10.0, 140.0, 0.0])
    assert pieces.reaching(80.0) == pytest.approx([0.5])


def test_standing_still() -> None:
    """Two vertices in one place at one height: finite, and no turning point."""
    pieces = pieces_over(SADDLE, [0.5, 0.5], [0.5, 0.5], [60, 60])
    assert extremes(pieces) == pytest.approx((10.0, 0.0, 10.0, 0.0))
    assert pieces.reaching(10.0).size == 0
    assert np.isnan(pieces.vertex()[0]).all()


def test_ridge_between_two_samples() -> None:
    """A ridge of one post between two vertices is met exactly: 100 m under 130 m leaves 30 m."""
    heights = np.zeros((3, 9))
    heights[:, 4] = 100.0
    pieces = pieces_over(heights, [1, 1], [0.4, 7.3], [130, 130])
    assert extremes(pieces)[:2] == pytest.approx((30.0, 3.6 / 6.9))
    assert pieces.reaching(80.0) == pytest.approx([3.1 / 6.9, 4.1 / 6.9])


@pytest.mark.parametrize("line", [0.0, 2.0, 4.0])
@pytest.mark.parametrize("across", [False, True])
def test_along_a_line_of_posts(line: float, across: bool) -> None:
    """On a line of posts only that line counts, the outermost included, a hole beside it or not."""
    heights = hills(5, 5)
    alone = np.full_like(heights, np.nan)
    alone[int(line)] = heights[int(line)]
    row, column = [line, line], [0.25, 3.75]
    expected = np.interp(np.linspace(0.25, 3.75, 99), np.arange(5), heights[int(line)])
    if across:
        alone, row, column = alone.T, column, row
    pieces = pieces_over(alone, row, column, [700, 700])
    assert np.isfinite(pieces.a0).all()
    assert 700 - extremes(pieces)[0] == pytest.approx(expected.max())
    assert pieces.stop[-1] == 1.0


def test_pieces_cover_the_polyline_once() -> None:
    """Pieces follow each other without gap or overlap, none of them empty but a standing one."""
    random = np.random.default_rng(6)
    row, column = random.uniform(0, 20, (2, 60))
    row[10:14], column[20:24] = row[10].round(), column[20].round()  # along lines of posts
    row[30], column[30] = 7.0, 9.0  # on a post
    row[41], column[41] = row[40], column[40]  # twice
    pieces = pieces_over(hills(21, 21), row.tolist(), column.tolist(), [700.0] * 60)
    assert pieces.start[0] == 0.0
    assert pieces.stop[-1] == 59.0
    assert (pieces.start[1:] == pieces.stop[:-1]).all()
    assert (pieces.stop > pieces.start).all()
    ends = pieces.a0 + pieces.a1 + pieces.a2
    assert np.abs(ends[:-1] - pieces.a0[1:]).max() < 1e-9  # continuous


def test_off_the_model_and_back() -> None:
    """A leg that leaves the posts and comes back is unknown between, known before and after."""
    pieces = pieces_over(np.full((6, 6), 10.0), [2, 2, 2], [3, 7, 3], [50, 50, 50])
    known = np.isfinite(pieces.a0)
    assert pieces.missing_edges() == pytest.approx([0.5, 1.5])
    assert (pieces.a0[known] == 40.0).all()


@pytest.mark.parametrize("what", ["place", "height"])
def test_unknown_vertices_are_unknown_ground(what: str) -> None:
    """NaN in a place or in a height makes the chords beside it unknown, and no others."""
    row, z = [1.0, 1.0, 1.0, 1.0], [50.0, 50.0, 50.0, 50.0]
    (row if what == "place" else z)[2] = np.nan
    pieces = pieces_over(np.full((6, 6), 10.0), row, [0.5, 1.5, 2.5, 3.5], z)
    known = np.isfinite(pieces.a0) & np.isfinite(pieces.a1) & np.isfinite(pieces.a2)
    assert pieces.start[known].tolist() == [0.0, 0.5]
    assert pieces.reaching(40.5).size == 0


def test_far_along_a_long_polyline() -> None:
    """At vertex 200,000 positions are still good to a thousandth of a millimetre."""
    row = np.full(200_001, 0.5)
    column = np.tile([0.2, 0.9], 100_001)[:200_001]
    heights = np.array([[0.0, 100.0], [0.0, 100.0]])
    pieces = above_ground(Net(heights), row, column, np.full(200_001, 100.0), (2, 2))
    last = pieces.reaching(50.0)[-1]
    assert along(column, np.array([last]))[0] == pytest.approx(0.5, abs=1e-9)


# ------------------------------------------------------------ every millimetre


def a_leg(
    terrain: reference.Terrain, random: np.random.Generator
) -> tuple[reference.Position, reference.Position]:
    """Return a leg of 150 m to 700 m over known ground, climbing or not, some of it below."""
    row, column = places(terrain, 1, seed=int(random.integers(10**9)))
    lon, lat = reference.lonlat_of(terrain, row, column)
    azimuth, length = random.uniform(0, 360), random.uniform(150, 700)
    end_lon, end_lat, _ = reference.GEODESIC.fwd(lon[0], lat[0], azimuth, length)
    ground = reference.scipy_ground_m(terrain, [lon[0], end_lon], [lat[0], end_lat])
    if np.isnan(ground).any():
        return a_leg(terrain, random)
    heights = ground + random.uniform(-20, 150, 2)
    return (
        reference.Position(lon_deg=lon[0], lat_deg=lat[0], elevation_m=float(heights[0])),
        reference.Position(lon_deg=end_lon, lat_deg=end_lat, elevation_m=float(heights[1])),
    )


def flown(
    ground: Ground, start: reference.Position, end: reference.Position
) -> tuple[Floats, Floats, Floats, float]:
    """Return (row, column, elevation) every metre of the geodesic, and its length."""
    length: float
    azimuth, _, length = reference.GEODESIC.inv(
        start.lon_deg, start.lat_deg, end.lon_deg, end.lat_deg
    )
    along_m = np.linspace(0.0, length, int(np.ceil(length)) + 1)
    same = np.ones_like(along_m)
    lon, lat, _ = reference.GEODESIC.fwd(
        start.lon_deg * same, start.lat_deg * same, azimuth * same, along_m
    )
    row, column = ground.posts_at(lon, lat)
    return row, column, np.linspace(start.elevation_m, end.elevation_m, along_m.size), length


@pytest.mark.parametrize("copy", ["as it is", "rotated"])
@pytest.mark.parametrize("piece", ["sierra30", "lakes50"])
def test_extremes_of_random_legs(
    piece: str, copy: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Over real ground the least and the most height of ten legs are those of a 1 mm scan.

    Between two millimetres a slope of 80 degrees hides at most half a millimetre
    times 5.7: 3 mm; the exact extreme is never inside the scanned ones.
    """
    path = COPIES[copy](request.getfixturevalue(piece), tmp_path)
    terrain, ground = reference.read_terrain(path), Ground(path)
    random = np.random.default_rng(11)
    for _ in range(10):
        start, end = a_leg(terrain, random)
        row, column, elevation_m, length = flown(ground, start, end)
        least, least_at, most, most_at = extremes(ground.above_ground(row, column, elevation_m))
        scan = reference.scan_leg(terrain, start, end)
        assert scan.min_m - 0.003 < least < scan.min_m + 1e-6
        assert scan.max_m + 0.003 > most > scan.max_m - 1e-6
        step = length / (row.size - 1)
        assert least_at * step == pytest.approx(scan.min_at_m, abs=0.002)
        assert most_at * step == pytest.approx(scan.max_at_m, abs=0.002)


def test_levels_of_random_legs(sierra30: Path) -> None:
    """Each place where a leg reaches a level is at that level by SciPy, and none is missed."""
    terrain, ground = reference.read_terrain(sierra30), Ground(sierra30)
    random = np.random.default_rng(12)
    for _ in range(12):
        row, column, elevation_m, _ = flown(ground, *a_leg(terrain, random))
        pieces = ground.above_ground(row, column, elevation_m)
        least, _, most, _ = extremes(pieces)
        level = float(random.uniform(least, most))

        found = pieces.reaching(level)
        assert (
            np.abs(scipy_height(terrain.heights_m, (row, column, elevation_m), found) - level).max()
            < 1e-6
        )
        everywhere = np.linspace(0, row.size - 1, 400_001)
        dense = scipy_height(terrain.heights_m, (row, column, elevation_m), everywhere) > level
        assert found.size == np.count_nonzero(dense[1:] != dense[:-1])


@pytest.mark.parametrize("beside", [0.0, 1e-10, -4e-9, 6e-9, 1e-8])
def test_any_zigzag_over_rough_ground(tmp_path: Path, beside: float) -> None:
    """A polyline with vertices anywhere, on posts, on their lines or a hair beside them.

    A hair (5e-9 cells) of a step of 200 m is a micrometre, and both axes have one.
    """
    heights = hills(30, 30)
    path = utm_raster(tmp_path, heights)
    ground = Ground(path)
    random = np.random.default_rng(13)
    row, column = random.uniform(0, 29, (2, 80))
    row[::5] = np.clip(row[::5].round() + beside, 0, 29)
    column[::7] = np.clip(column[::7].round() + beside, 0, 29)
    row[40:44], column[60:64] = 12.0 + beside, 17.0 + beside  # along lines of posts
    z = random.uniform(300, 600, 80)
    pieces = ground.above_ground(row, column, z)
    share = np.linspace(0.0, 1.0, 11)
    position = pieces.start[:, None] + share * (pieces.stop - pieces.start)[:, None]
    value = pieces.a0[:, None] + share * (pieces.a1[:, None] + share * pieces.a2[:, None])
    flat = position.ravel()
    expected = scipy_height(heights, (row, column, z), flat)
    assert np.abs(value.ravel() - expected).max() < 2.1e-6
