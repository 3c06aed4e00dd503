"""ride-log.html: one offline page for the phone, which notes when start was pressed and the fix was shown."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files

from trackspread.errors import BadOption, printable
from trackspread.report import style
from trackspread.report.policy import json_block, with_policy
from trackspread.rides.sheet.table import LONGEST_CELL
from trackspread.system.spreadsheet import FORMULA_STARTS

MOST_WATCHES = 20  # watches on one page


def log_page(watches: Sequence[str] = ()) -> str:
    """Return the page, which opens offline and asks for nothing.

    What is pressed is kept in the page's own storage, and saved as a table of rides whose rows name no file:
    `rides.ride_log` matches them by watch and time.

    Parameters
    ----------
    watches : sequence of str
        Offered on the page, at most `MOST_WATCHES`.

    Returns
    -------
    str
        HTML with its policy.

    Raises
    ------
    BadOption
        A watch has no name, or there are too many.
    """
    names = [" ".join(printable(name, LONGEST_CELL).split()) for name in watches]
    if not all(names):
        raise BadOption("watch", "a name is needed")
    if len(names) > MOST_WATCHES:
        raise BadOption("watch", f"at most {MOST_WATCHES} watches are offered", str(len(names)))
    folder = files("trackspread.web").joinpath("log_page")
    look, script, page = (
        folder.joinpath(name).read_text("utf-8") for name in ("log.css", "log.js", "log.html")
    )
    data = {
        "watches": list(dict.fromkeys(names)),
        "most_watches": MOST_WATCHES,
        "formula_starts": list(FORMULA_STARTS),
    }
    page = page.replace("/*style*/", style.css_variables() + look).replace("/*script*/", script)
    return with_policy(page).replace("<!--data-->", json_block(data))
