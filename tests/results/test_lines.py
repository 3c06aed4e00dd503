"""Lines in degrees: what thinning may change, and where the antimeridian cuts (RFC 7946, section 3.1.9)."""

import numpy as np
import shapely

from trackspread.results.lines import cut_lines, thinned


def test_a_line_is_cut_at_the_antimeridian():
    lines = cut_lines([(np.array([179.0, 181.0]), np.array([0.0, 1.0]))])
    assert [line.coords[:] for line in lines.geoms] == [
        [(179.0, 0.0), (180.0, 0.5)],
        [(-180.0, 0.5), (-179.0, 1.0)],
    ]


def test_thinning_keeps_within_its_tolerance():
    random = np.random.default_rng(1)
    x = np.arange(0.0, 2000.0, 5.0)
    y = np.cumsum(random.normal(0, 0.4, len(x)))
    lon, lat = 69.4 + x / 111_320 / np.cos(np.radians(-48.9)), -48.9 + y / 111_320
    thin_lon, thin_lat = thinned(lon, lat, 0.5)
    assert 2 < len(thin_lon) < 0.6 * len(lon)
    flat = shapely.linestrings(
        (thin_lon - 69.4) * 111_320 * np.cos(np.radians(-48.9)), (thin_lat + 48.9) * 111_320
    )
    assert shapely.hausdorff_distance(flat, shapely.linestrings(x, y)) < 5.1
    assert shapely.distance(shapely.points(x, y), flat).max() <= 0.51
