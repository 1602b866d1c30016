"""The site of docs/: `make docs` builds it."""

import json
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent / "published" / "datapackage.json"

project = "Jointable"
author = "the Jointable authors"
version = release = json.loads(_PACKAGE.read_text("utf-8"))["version"]
extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build", "templates"]
myst_enable_extensions = ["colon_fence"]
myst_heading_anchors = 3
html_theme = "furo"
html_title = f"Jointable, data {version}"
html_extra_path = ["serving-nginx.conf"]
html_copy_source = False
# Blocks name what they are for after the language, and some languages have no colours.
suppress_warnings = ["misc.highlighting_failure"]
