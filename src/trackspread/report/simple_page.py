"""The frame of a page without scripts: our style, our policy, one self-contained file."""

from __future__ import annotations

from html import escape
from importlib.resources import files

from trackspread.report.policy import PLACE, with_policy
from trackspread.report.style import css_variables


def simple_page(title: str, css: str, body: str) -> str:
    """Return a page; ``title`` is escaped here, ``body`` is HTML whose texts are escaped already."""
    base = (files("trackspread.report") / "templates" / "base.css").read_text("utf-8")
    return with_policy(
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n{PLACE}\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{css_variables()}{base}{css}</style>\n</head>\n"
        f"<body>\n<main>\n<h1>{escape(title)}</h1>\n{body}\n</main>\n</body>\n</html>\n"
    )
