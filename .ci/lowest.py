"""Print the lowest versions that pyproject.toml declares, one requirement a line, for pip."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text())["project"]
for requirement in [*project["dependencies"], *project["optional-dependencies"]["test"]]:
    declared = re.fullmatch(r"([\w.-]+)>=([\w.]+)", requirement)
    if declared is None:
        raise SystemExit(
            f"pyproject.toml: a lowest version, name>=version, is needed (found {requirement!r})"
        )
    print("==".join(declared.groups()))
