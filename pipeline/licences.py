"""`python -m pipeline.licences`: the licences of what the library and the build need, read from the packages."""

from __future__ import annotations

import re
import sys
from importlib.metadata import PackageMetadata, PackageNotFoundError, metadata
from pathlib import Path

from jointable.files import write_text
from pipeline.schema import ROOT

__all__ = ["main", "needed", "page"]

TARGET = ROOT / "docs" / "licences.md"
LIBRARY = ROOT / "requirements" / "library.txt"
ALL = ROOT / "requirements" / "dev.txt"

_NAME = re.compile(r"^([A-Za-z0-9][A-Za-z0-9._-]*)==", re.MULTILINE)


def _names(path: Path) -> list[str]:
    return sorted({name.lower() for name in _NAME.findall(path.read_text("utf-8"))})


def needed() -> list[str]:
    """The packages in the order of the page: of the library, then of the rest."""
    library = _names(LIBRARY)
    return library + [name for name in _names(ALL) if name not in library]


def _licence(about: PackageMetadata) -> str:
    """The licence as the package states it: expression, classifiers, or the first line of its text."""
    if "License-Expression" in about:
        return about["License-Expression"]
    kinds = [c.rpartition(" :: ")[2] for c in about.get_all("Classifier") or [] if c.startswith("License ::")]
    said = about["License"].strip() if "License" in about else ""
    text = ", ".join(kinds) or (said.splitlines()[0] if said else "not stated")
    return text.replace("|", "/")[:80]


def _row(name: str) -> str:
    try:
        return f"| `{name}` | {_licence(metadata(name))} |"
    except PackageNotFoundError:
        return f"| `{name}` | not installed on this system |"


def page() -> str:
    """The page of docs/."""
    library = _names(LIBRARY)
    parts = [
        "# Licences of what is used\n",
        "Written by `python -m pipeline.licences` from what the locked packages state of themselves. The code here is",
        "under the MIT licence, the data under CC BY 4.0; nothing of these packages is part of it.\n",
        "## The library needs\n",
        "| package | licence |\n|---|---|",
        *map(_row, library),
        "\n## The pipeline, the explorer and development need besides\n",
        "| package | licence |\n|---|---|",
        *(_row(name) for name in needed() if name not in library),
    ]
    return "\n".join(parts) + "\n"


def main() -> int:
    """Write the page."""
    write_text(TARGET, page())
    print(f"wrote {TARGET.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
