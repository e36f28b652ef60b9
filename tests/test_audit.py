"""The audit of a design: what was repeated, in which blocks; nothing said of a sound trial. Tables are invented."""

from dataclasses import replace

import pandas as pd

from audit_tables import audited, blocks_of, kinds, one, picked
from field_tables import plot, records
from folders import DEMO
from plotworth.case.folder import open_case
from plotworth.field.arrangement import completely_randomised, latin_square, split_plot
from plotworth.field.audit import audit, refusals, trials_of
from plotworth.field.finding import LIMITS, NOTE, REFUSES, Finding
from plotworth.field.interspersion import Standing

Rows = list[dict[str, object]]


def test_nothing_is_found_in_a_sound_trial() -> None:
    assert audited(blocks_of("tank", "hand")) == ()


def test_the_demo_has_one_plot_missing_and_nothing_else() -> None:
    case = open_case(DEMO)
    found = audit(
        case.table("plots"),
        case.table("harvests"),
        arrangement=split_plot(whole=("factor_water",), sub=("factor_inoculation",)),
        references={"present practice": "hand", "the baseline": "drip"},
        compared=("tank", "drip", "hand"),
        inputs=case.table("inputs"),
        water=case.table("water"),
    )
    assert [(f.kind, f.severity, f.plots) for f in found] == [("missing plots", NOTE, ("P26",))]


def test_one_plot_each_is_a_demonstration() -> None:
    finding = one(audited(blocks_of("tank", "hand", blocks=1)), "nothing replicated")
    assert finding.severity == REFUSES
    assert finding.sentence == (
        "No treatment has more than one plot with a picking (tank and hand): this is a demonstration, not a trial, "
        "and what differs may be the ground."
    )
    assert "four blocks" in finding.cure


def test_a_treatment_with_one_plot_is_named_while_others_are_repeated() -> None:
    plots = blocks_of("tank", "hand")
    plots = plots[~plots["plot"].isin(["2tank", "3tank", "4tank"])]
    finding = one(audited(plots), "one plot")
    assert (finding.severity, finding.plots, finding.treatments) == (LIMITS, ("1tank",), ("tank",))
    assert finding.sentence.startswith("tank has one plot with a picking (1tank)")


def test_a_plot_without_pickings_does_not_count_as_a_repetition() -> None:
    plots = blocks_of("tank", "hand", blocks=2)
    harvests = picked(plots[plots["plot"] != "2tank"])
    found = audited(plots, harvests)
    assert one(found, "one plot").plots == ("1tank",)
    assert one(found, "missing plots").sentence == "2tank has no picking and is missing, not zero."


def test_a_treatment_never_picked_refuses_its_own_comparisons_alone() -> None:
    plots = blocks_of("tank", "hand", "drip")
    found = audited(plots, picked(plots[plots["treatment"] != "drip"]))
    assert [f.kind for f in refusals(found, ("tank", "drip"))] == ["no picking"]
    assert refusals(found, ("tank", "hand")) == []


def test_single_plants_of_a_bed_are_one_plot() -> None:
    rows: Rows = [
        {**plot(f"{t}{b}-{i}", t, block=f"B{b}"), "plants": 1}
        for b in (1, 2)
        for t in ("tank", "hand")
        for i in range(5)
    ]
    finding = one(audited(records("plots", *rows)), "plants as plots")
    assert finding.severity == REFUSES
    # 2 blocks x 2 treatments x 5 plants
    assert "20 rows of plots.csv are single plants" in finding.sentence
    assert "they count as 4 plots, not as 20" in finding.sentence


def test_plants_of_one_bed_each_are_a_demonstration_with_or_without_blocks_written() -> None:
    for block in ("B1", ""):
        rows: Rows = [{**plot(f"{t}{i}", t, block=block), "plants": 1} for t in ("tank", "hand") for i in range(6)]
        found = audited(records("plots", *rows), arrangement=None)
        assert {"plants as plots", "nothing replicated"} <= kinds(found)


def test_pots_drawn_by_lot_over_the_whole_bench_are_plots() -> None:
    rows: Rows = [{**plot(f"{t}{i}", t), "plants": 1} for t in ("tank", "hand") for i in range(6)]
    found = audited(records("plots", *rows), arrangement=completely_randomised("treatment"))
    assert [(f.kind, f.severity) for f in found] == [("no blocks", NOTE)]


def test_several_plots_of_a_treatment_in_a_block_may_be_parts_of_one() -> None:
    plots = pd.concat([blocks_of("tank", "hand"), blocks_of("tank", "hand").assign(plot=lambda t: t["plot"] + "b")])
    finding = one(audited(plots.reset_index(drop=True)), "parts as plots")
    assert finding.severity == LIMITS
    assert "as parts of one bed they count as 8" in finding.sentence


def test_a_block_of_one_treatment_is_named() -> None:
    plots = blocks_of("tank", "hand")
    plots["treatment"] = plots["treatment"].mask(plots["block"] == "B2", "tank")
    finding = one(audited(plots), "block of one treatment")
    assert finding.sentence == "All plots of block B2 have tank: the block says nothing about differences."
    assert finding.plots == ("2tank", "2hand")


def test_blocks_that_each_hold_one_treatment_are_the_units() -> None:
    plots = blocks_of("tank", "hand")
    plots["block"] = plots["treatment"] + plots["block"].isin(["B1", "B2"]).astype(int).astype(str)
    finding = one(audited(plots), "block is treatment")
    assert finding.severity == REFUSES
    assert "(2 of tank and 2 of hand)" in finding.sentence


def test_a_factor_that_varies_between_blocks_only_is_refused_and_the_one_within_is_not() -> None:
    rows: Rows = [
        {**plot(f"{b}{i}", f"{w}+{i}", block=b)}
        for b, w in (("B1", "tank"), ("B2", "hand"))
        for i in ("fungus", "none")
    ]
    plots = records("plots", *(rows * 2)).assign(plot=[f"P{n}" for n in range(8)])
    plots[["factor_water", "factor_inoculation"]] = plots["treatment"].str.split("+", expand=True).to_numpy()
    found = audited(plots, arrangement=None)
    finding = one(found, "factor by block")
    assert finding.features == ("water",)
    assert "(1 of hand and 1 of tank)" in finding.sentence
    assert refusals(found, ("tank+none", "hand+none"), differing=("water",)) == [finding]
    assert refusals(found, ("tank+fungus", "tank+none"), differing=("inoculation",)) == []


def test_whole_plots_drawn_without_blocks_may_be_named_by_the_block_column() -> None:
    rows: Rows = [
        plot(f"{b}{i}", f"{w}+{i}", block=f"{w}{b}")
        for b in (1, 2)
        for w in ("tank", "hand")
        for i in ("fungus", "none")
    ]
    plots = records("plots", *rows)
    plots[["factor_water", "factor_inoculation"]] = plots["treatment"].str.split("+", expand=True).to_numpy()
    arrangement = split_plot(whole=("factor_water",), sub=("factor_inoculation",), block="", whole_plot="block")
    assert [(f.kind, f.severity) for f in audited(plots, arrangement=arrangement)] == [("no blocks", NOTE)]


def test_a_block_that_lacks_a_treatment_is_named() -> None:
    plots = blocks_of("tank", "hand", "drip")
    finding = one(audited(plots[plots["plot"] != "3drip"]), "incomplete blocks")
    assert (finding.severity, finding.treatments) == (NOTE, ("drip",))
    assert "B3 lacks drip" in finding.sentence


def test_two_treatments_that_no_block_holds_together_are_named() -> None:
    pairs = (("B1", "tank", "hand"), ("B2", "tank", "hand"), ("B3", "tank", "drip"), ("B4", "tank", "drip"))
    plots = records("plots", *(plot(f"{b}{t}", t, block=b) for b, *two in pairs for t in two))
    finding = one(audited(plots), "never together")
    assert finding.treatments == ("hand", "drip")


def test_a_latin_square_is_sound() -> None:
    square = ("ABC", "BCA", "CAB")
    rows: Rows = [plot(f"{r}{c}", square[r][c]) for r in range(3) for c in range(3)]
    plots = records("plots", *rows).assign(row=[f"R{i // 3}" for i in range(9)], column=[f"C{i % 3}" for i in range(9)])
    assert audited(plots, arrangement=latin_square("treatment", row="row", column="column")) == ()


def test_a_blank_block_among_others_is_named() -> None:
    plots = blocks_of("tank", "hand")
    plots["block"] = plots["block"].mask(plots["plot"] == "1tank", "")
    assert one(audited(plots), "block blank").plots == ("1tank",)


def test_without_a_design_the_draw_is_not_known() -> None:
    found = audited(blocks_of("tank", "hand").assign(block=""), arrangement=None)
    assert {f.kind: f.severity for f in found} == {"draw unknown": LIMITS, "no blocks": LIMITS}


def test_seasons_are_audited_one_by_one() -> None:
    first = blocks_of("tank", "hand", trial_year="2025")
    second = blocks_of("tank", "hand", blocks=1, trial_year="2026").assign(plot=["x", "y"])
    found = audited(pd.concat([first, second], ignore_index=True))
    assert one(found, "nothing replicated").sentence.startswith("2026: No treatment has more than one plot")
    assert "2025 and 2026" in one(found, "several trials").sentence
    assert [name for name, _ in trials_of(pd.concat([first, second]))] == ["2025", "2026"]


def test_a_treatment_on_one_side_of_every_block_is_found() -> None:
    found = audited(blocks_of("tank", "hand"), standings=(Standing("tank", (0, 0, 0, 0), 2),))
    assert one(found, "segregated").sentence == "tank has the same place, number 1, in every block."


def test_the_gravest_comes_first() -> None:
    plots = blocks_of("tank", "hand", blocks=3).assign(manager=lambda t: t["treatment"])
    assert [f.severity for f in audited(plots, arrangement=None)] == [REFUSES, LIMITS, NOTE]


def test_a_finding_without_treatments_concerns_every_comparison() -> None:
    finding = Finding("few blocks", NOTE, "Few.", "More.")
    assert finding.concerns(("tank",))
    assert not replace(finding, treatments=("drip",)).concerns(("tank", "hand"))
    assert not replace(finding, features=("water",)).concerns(("tank",), differing=("cover",))


def test_one_bed_of_several_plots_for_each_treatment_is_a_demonstration() -> None:
    plots = blocks_of("tank", "hand")
    found = audited(plots.assign(block=plots["treatment"]))
    assert {"block is treatment", "nothing replicated"} <= kinds(found)


def test_a_factor_that_some_blocks_hold_both_levels_of_is_not_refused() -> None:
    held = (("B1", "tank+a"), ("B1", "hand+a"), ("B2", "tank+a"), ("B2", "tank+b"), ("B3", "hand+a"), ("B3", "hand+b"))
    plots = records("plots", *(plot(f"{b}{t}", t, block=b) for b, t in held))
    plots[["factor_water", "factor_feed"]] = plots["treatment"].str.split("+", expand=True).to_numpy()
    assert "factor by block" not in kinds(audited(plots))
