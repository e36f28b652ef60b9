"""Files of a case written at once or not at all."""

import os
import shutil
import tempfile
from pathlib import Path

from plotworth.ground.errors import CaseError


def write_whole(path: Path, text: str) -> None:
    """Write a text file by way of a new file that then takes the old one's place."""
    try:
        handle, new = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise CaseError(f"{path.name}: could not be written ({error.strerror}).") from error
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
        if path.exists():
            shutil.copymode(path, new)
        Path(new).replace(path)
    except OSError as error:
        Path(new).unlink(missing_ok=True)
        raise CaseError(f"{path.name}: could not be written ({error.strerror}).") from error
