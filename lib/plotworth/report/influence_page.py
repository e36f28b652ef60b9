"""What moves a case, what it rests on and what would be worth knowing, as part of the page of risk."""

from collections.abc import Iterator

from plotworth.choose.influence import Influence
from plotworth.choose.risk_share_table import influence_groups
from plotworth.report.page import tables_lines, wrapped


def influence_lines(found: Influence) -> Iterator[str]:
    """Yield the lines of the three questions: heading, sentences, tables."""
    for group in influence_groups(found):
        yield from ("", group.heading.upper())
        yield from (line for sentence in group.sentences for line in wrapped(sentence))
        yield from tables_lines(group.tables)
