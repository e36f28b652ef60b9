"""Where the decision turns, as a page of text: by area, by any assumption alone, by two, by all together."""

from plotworth.choose.appraise import Appraisal
from plotworth.choose.case_crossover import CaseCrossover
from plotworth.choose.crossover_table import crossover_sentences, crossover_tables
from plotworth.ground.cautions import DECISION_SUPPORT
from plotworth.report.page import tables_lines, title_lines, wrapped


def crossover_text(appraisal: Appraisal, found: CaseCrossover) -> str:
    """Return the page of the crossover of an appraised case: what follows in sentences, then the tables."""
    settings = appraisal.case.settings
    lines = title_lines(settings)
    lines += wrapped(f"Where the decision turns, by net present value in full, {settings.currency}.")
    lines += ["", *wrapped(appraisal.headline), ""]
    lines += [line for sentence in crossover_sentences(appraisal, found) for line in wrapped(f"- {sentence}")]
    return "\n".join([*lines, *tables_lines(crossover_tables(appraisal, found)), "", *wrapped(DECISION_SUPPORT)])
