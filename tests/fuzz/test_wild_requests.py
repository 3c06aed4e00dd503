"""A drop page that is asked wildly, eight requests at a time, answers, says nothing of its insides, and ends well."""

from __future__ import annotations

from fuzz.wild_requests import ended, run, started


def test_wild_requests_do_no_harm() -> None:
    process, client = started()
    try:
        counts = run(client, 250, seed=20261128)
        assert not {"500", "silent", "odd"} & set(counts), counts
        assert counts["200"] > 0
        assert client.ask("GET", "/state").status == 200
        assert ended(process, client) == (0, "")
    finally:
        process.kill()
