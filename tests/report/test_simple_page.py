"""A page of one file: titles escaped, a policy that names its style."""

from trackspread.report.policy import PLACE
from trackspread.report.simple_page import simple_page


def test_a_hostile_title_is_text() -> None:
    page = simple_page("<script>alert(1)</script>", "p { color: red; }", "<p>body</p>")
    assert "<script>" not in page
    assert page.count("&lt;script&gt;alert(1)&lt;/script&gt;") == 2
    assert PLACE not in page
    assert "style-src 'sha256-" in page
