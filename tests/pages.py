"""What the tests of pages in a real browser share: a watch over everything that a page does."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from records import make_analysis
from trackspread.report.page import map_page, report_page
from trackspread.results.document import result_document


@dataclass
class Watch:
    """Everything that a page asked for, complained about, or was forbidden."""

    requests: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    def clean(self) -> bool:
        """Whether nothing was asked for, nothing went wrong, nothing opened."""
        return (self.requests, self.errors, self.dialogs) == ([], [], [])


def watched(page: Any) -> Watch:
    """Return a watch over a page that is yet to be opened; violations of its policy are errors."""
    watch = Watch()
    page.add_init_script(
        "document.addEventListener('securitypolicyviolation', e => "
        "console.error(`policy: ${e.violatedDirective} ${e.blockedURI}`))"
    )
    local = ("file:", "data:", "blob:")
    page.on("request", lambda r: None if r.url.startswith(local) else watch.requests.append(r.url))
    page.on("console", lambda m: watch.errors.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: watch.errors.append(str(error)))
    page.on("dialog", lambda dialog: (watch.dialogs.append(dialog.message), dialog.dismiss()))
    return watch


def write_pages(folder: Any, **made: Any) -> tuple[str, str]:
    """Write report.html and map.html of a made analysis; return their addresses."""
    analysis = make_analysis(**made)
    document = result_document(analysis)
    for name, text in (("report", report_page(analysis, document)), ("map", map_page(analysis, document))):
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return (folder / "report.html").as_uri(), (folder / "map.html").as_uri()
