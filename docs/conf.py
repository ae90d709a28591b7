"""Sphinx settings: MyST pages, Furo, formulas as MathML; nothing is fetched from outside."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

project = "Cakewright"
author = "The Cakewright developers"
copyright = "2026, the Cakewright developers"
extensions = [
    "myst_parser",
    "mathml",
    "sphinx.ext.autodoc",
    "sphinx.ext.napoleon",
    "api_pages",
]
napoleon_google_docstring = False
napoleon_use_rtype = False
autodoc_typehints = "none"
autodoc_member_order = "bysource"
html_math_renderer = "mathml"
myst_enable_extensions = ["dollarmath", "amsmath", "deflist", "colon_fence"]
myst_heading_anchors = 3
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build"]
html_theme = "furo"
html_title = "Cakewright"
html_static_path = ["static"]
html_css_files = ["wide.css"]
html_theme_options = {
    "light_css_variables": {"color-brand-primary": "#0b5c6b", "color-brand-content": "#0b5c6b"},
    "dark_css_variables": {"color-brand-primary": "#67c1d0", "color-brand-content": "#67c1d0"},
}
suppress_warnings = ["myst.xref_missing"]
