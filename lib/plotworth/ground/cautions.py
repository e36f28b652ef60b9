"""Cautions shown where the work can hurt someone: short, and deferring to local codes and licensed practice.

Sources: 29 CFR 1926.652 (excavation), 29 CFR 1910.146 (confined spaces), 7 CFR 205.203(c) (raw manure), WHO and
CDC (stored water); lifting and money: common practice, no source.
"""

DECISION_SUPPORT = (
    "Decision support from the case's own figures; no financial, engineering or legal advice. Local codes and "
    "licensed practice come first, above all for wells, pumps and permits."
)
CAUTIONS = {
    "Wells": "Hand-dug wells collapse and hold bad air: never alone, line or shore them, test the air before entry; "
    "ask for the abstraction permit first.",
    "Pumps": "Switch the power off before any work; an earthed circuit, put in by a licensed electrician.",
    "Stored water": "Keep tanks covered against mosquitoes and drowning; this is not drinking water.",
    "Compost and manure": "Raw manure goes into the soil 120 days before harvest where the edible part touches soil, "
    "90 days otherwise, unless local rules ask for more.",
    "Carrying": "Share out lifting and carrying; small loads more often; children's backs are not a cost saving.",
    "Money": DECISION_SUPPORT,
}
