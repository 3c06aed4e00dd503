"""Words about two receivers; their sentences stand in tests/pairs/test_outcome.py."""

from trackspread.results.words.pairs import seconds_told


def test_seconds_told() -> None:
    assert seconds_told(0.0) == "0.0 s"
    assert seconds_told(0.5) == "0.5 s"
    assert seconds_told(-0.04) == "-0.0 s"
    assert seconds_told(1800.0) == "1800.0 s"
    assert seconds_told(-3599.4) == "-3599.4 s"
    assert seconds_told(3599.6) == seconds_told(3600.0) == "1 h"
    assert seconds_told(7200.0) == "2 h"
    assert seconds_told(-7205.0) == "-2 h 5 s"
    assert seconds_told(86_400.0) == "1 days"
    assert seconds_told(3 * 86_400.0) == "3 days"
