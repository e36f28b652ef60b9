"""What is printed: every character a console cannot show gives way to a plain one, and a closed pipe is no error.

Windows consoles and redirected files often know cp1252 or ASCII only. A minus sign must not become a question
mark there, so characters outside the console's encoding are written as their nearest plain ones.
"""

import codecs
import errno
import io
import os
import sys
import unicodedata
from typing import TextIO

from plotworth.ground.errors import PlotworthError

PLAIN = "plotworth.plain"
PLAIN_CHARACTERS = {"\u2212": "-", "\u2013": "-", "\u2014": "-", "\u00d7": "x", "\u2018": "'", "\u2019": "'"}
NO_CHARACTER = "?"
CLOSED = (errno.EPIPE, errno.EINVAL)  # a closed pipe: Windows says the second


def plain_text(text: str) -> str:
    """Return text in ASCII: the true minus as -, m² as m2, a narrow space as a space, é as e, what is left as ?."""
    return "".join(PLAIN_CHARACTERS.get(one) or _plain_letter(one) for one in text)


def _plain_letter(letter: str) -> str:
    parts = unicodedata.normalize("NFKD", letter)
    return parts.encode("ascii", "ignore").decode("ascii") or NO_CHARACTER


def _replace(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return plain_text(error.object[error.start : error.end]), error.end


codecs.register_error(PLAIN, _replace)


def show_plain(stream: TextIO | None) -> None:
    """Let a stream keep its encoding and write what that lacks in plain characters."""
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(errors=PLAIN)


def say(text: str) -> None:
    """Print text and a line end at once; a reader that has gone away is no error.

    Raises PlotworthError where the text cannot be written, as on a full disk.
    """
    try:
        print(text, flush=True)
    except OSError as error:
        _discard_the_rest()
        if error.errno not in CLOSED:
            raise PlotworthError(f"The output could not be written ({error.strerror}).") from None


def _discard_the_rest() -> None:
    """Send what is still to be written nowhere, so that ending the program does not fail a second time."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
