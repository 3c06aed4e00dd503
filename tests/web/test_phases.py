"""One share from the shares of the phases: it never falls, and ends at one."""

from __future__ import annotations

import pytest

from trackspread.web.phases import PHASES, overall


@pytest.mark.parametrize("film", [False, True])
def test_shares_join_without_gaps(film):
    told = []
    tell = overall(lambda phase, share: told.append((phase, share)), film=film)
    phases = [name for name in PHASES if film or name != "stills"]
    for name in phases:
        tell(name.capitalize(), 0.0)
        tell(name.capitalize(), 1.0)
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, pytest.approx(1.0))
    assert shares[1:-1:2] == pytest.approx(shares[2:-1:2])
    assert [words for words, _ in told[::2]] == [PHASES[name][1] for name in phases]
