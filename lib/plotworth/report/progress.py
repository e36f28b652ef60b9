"""How far long work has come: one line on a terminal that is written over; nothing where nobody watches."""

from typing import TextIO

from plotworth.ground.amounts import figures_text, number_text
from plotworth.report.console import plain_text

BAR = 30


class Progress:
    """A bar on a stream; on one that is no terminal it stays silent."""

    def __init__(self, stream: TextIO, what: str) -> None:
        self.stream, self.what = stream, what
        self.shows = stream.isatty()

    def show(self, share: float, done: int) -> None:
        """Show that a share of the work [share] is done, which is so many [1] of what is counted."""
        if self.shows:
            filled = round(BAR * share)
            bar = "#" * filled + "." * (BAR - filled)
            line = f"[{bar}] {figures_text(100 * share, digits=2)} %  {number_text(done, decimals=0)} {self.what}"
            self.stream.write(f"\r{plain_text(line)}")
            self.stream.flush()

    def clear(self) -> None:
        """Take the bar away, so that a line of its own can be written."""
        if self.shows:
            self.stream.write("\r\x1b[K")
            self.stream.flush()
