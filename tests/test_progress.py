"""The progress bar: one line that is written over on a terminal, silence elsewhere."""

import io

from plotworth.report.progress import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_terminal_sees_how_far_the_work_has_come_in_plain_characters() -> None:
    stream = Terminal()
    progress = Progress(stream, "sites")
    progress.show(0.5, 12_000)
    assert stream.getvalue() == f"\r[{'#' * 15}{'.' * 15}] 50 %  12 000 sites"
    progress.clear()
    assert stream.getvalue().endswith("\r\x1b[K")


def test_a_file_or_a_pipe_sees_nothing() -> None:
    stream = io.StringIO()
    progress = Progress(stream, "sites")
    progress.show(1.0, 3)
    progress.clear()
    assert stream.getvalue() == ""
