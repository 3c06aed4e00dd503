"""A cluster that is not there is told in one line."""

from __future__ import annotations

import pytest

from trackspread.errors import BadOption
from trackspread.system.cluster import cluster_executor


@pytest.mark.parametrize("address", ["nothing of the kind", "carrier-pigeon://loft"])
def test_an_address_that_is_none_is_a_bad_option(address: str) -> None:
    pytest.importorskip("distributed")
    with pytest.raises(BadOption, match="--scheduler: nobody answers") as told:
        cluster_executor(address)
    assert "\n" not in str(told.value)
