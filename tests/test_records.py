"""The builder of test records keeps its word: shapes agree, unknown figures carry a reason."""

import numpy as np
import pytest

from records import make_analysis


@pytest.mark.parametrize("hostile", [False, True])
@pytest.mark.parametrize("pairs", [False, True])
@pytest.mark.parametrize("traces", [2, 3, 6])
def test_record_is_whole(traces, pairs, hostile):
    made = make_analysis(traces=traces, routes=2, pairs=pairs, hostile=hostile)
    assert len(made.routes) == 2
    for route in made.routes:
        shape = (traces, len(route.station_m))
        assert route.offset_m.shape == route.deviation_m.shape == route.crossing_s.shape == shape
        assert route.in_stretch.shape == shape
        assert [t.number for t in route.traces] == list(range(traces))
        for trace in route.traces:
            assert trace.lon_deg.shape == trace.time_s.shape == trace.station_m.shape
            assert np.isfinite(trace.first_fix.value_s) or trace.first_fix.reason
            assert np.isfinite(trace.settled_fix.value_s) or trace.settled_fix.reason
        assert all(np.isfinite(s.spread.value) or s.spread.reason for s in route.segments)
        assert bool(route.pairs) == pairs
    assert np.isnan(made.routes[-1].crossing_s).all()


def test_same_seed_same_record():
    first, second = make_analysis(seed=4), make_analysis(seed=4)
    np.testing.assert_array_equal(first.routes[0].offset_m, second.routes[0].offset_m)
    assert not np.array_equal(
        first.routes[0].offset_m, make_analysis(seed=5).routes[0].offset_m, equal_nan=True
    )
