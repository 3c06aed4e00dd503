"""The addresses of the drop page: what a wrong request is answered, and what the page may run.

Statuses of RFC 9110; W3C Content Security Policy Level 3.
"""

from __future__ import annotations

import re

import pytest


def test_page_runs_only_what_carries_its_nonce(client):
    pages = [client.ask("GET", "/") for _ in range(2)]
    nonces = [
        re.search(r"script-src 'nonce-([\w-]{22,})'", page.headers["Content-Security-Policy"])[1]
        for page in pages
    ]
    assert nonces[0] != nonces[1]
    text = pages[0].body.decode()
    tags = re.findall(r"<(?:script|style|link rel=\"stylesheet\")[^>]*>", text)
    assert tags
    assert all(f'nonce="{nonces[0]}"' in tag for tag in tags)
    policy = pages[0].headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "require-trusted-types-for 'script'" in policy
    assert not re.search(r"\son\w+=|style=", text)


@pytest.mark.parametrize(
    ("path", "body", "status", "words"),
    [
        ("/correction", b"[]", 400, "A JSON object is needed"),
        ("/correction", b"{" * 9000, 400, "A JSON object is needed"),
        ("/correction", b'{"keys": "a"}', 400, "names traces, a column and a value"),
        ("/correction", b'{"keys": [1], "column": "ride", "value": "1"}', 400, "names traces"),
        ("/zone", b"{}", 400, "A zone has a name"),
        ("/zone", b'{"zone": "Nowhere/Atall"}', 400, "zone"),
        ("/run", b"{}", 409, "Nothing has been read yet"),
    ],
)
def test_what_is_wrong_is_answered_in_words_with_its_status(client, path, body, status, words):
    answer = client.ask("POST", path, body)
    assert answer.status == status
    assert words in answer.json()["error"]
    assert "Traceback" not in answer.body.decode()


def test_a_request_that_is_too_long_is_cut_off(client):
    answer = client.ask("POST", "/correction", b'"' + b"a" * 1_000_001)
    assert (answer.status, answer.headers["Connection"]) == (413, "close")


@pytest.mark.parametrize("name", ["none.js", "drop.html", "..%2fapp.py", "__init__.py"])
def test_parts_of_the_page_are_its_scripts_and_styles_alone(client, name):
    assert client.ask("GET", f"/page/{name}").status == 404


def test_each_part_has_its_type(client):
    for name, kind in (("drop.js", "text/javascript"), ("drop.css", "text/css")):
        answer = client.ask("GET", f"/page/{name}")
        assert (answer.status, answer.headers["Content-Type"].split(";")[0]) == (200, kind)
