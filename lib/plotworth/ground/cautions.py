"""The caution that stands under every appraisal; those on wells, pumps and tanks stand in the notebooks."""

DECISION_SUPPORT = (
    "Decision support from the case's own figures; no financial, engineering or legal advice. Local codes and "
    "licensed practice come first, above all for wells, pumps and permits."
)
