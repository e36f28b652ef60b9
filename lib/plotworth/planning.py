"""Plans a trial: draws the layout that a plan asks for, freezes it, writes the case's plots and the record sheets.

The one place where the plan of the case floor and the layout of the field floor meet.
"""

from dataclasses import replace
from pathlib import Path

from plotworth.case.folder import EXCEL_FILE
from plotworth.case.plan import FILE, Plan, PlannedPlot, plan_faults, read_plan
from plotworth.case.schema import table_columns
from plotworth.case.settings import FILE as SETTINGS_FILE
from plotworth.case.settings import read_settings
from plotworth.case.sheet import read_csv, read_excel, write_csv
from plotworth.case.writing import write_whole
from plotworth.choose.trial_outline import plan_design, plan_size
from plotworth.field.layout import NO_REDRAW, Layout, allowed_columns, draw_layout
from plotworth.field.layout_map import text_map
from plotworth.field.plot_size import PlotSize
from plotworth.field.power_card import card_lines, power_card
from plotworth.ground.amounts import amount_text
from plotworth.ground.errors import CaseError, Fault, FaultsError
from plotworth.report.record_forms import plot_rows, plots_header, write_forms
from plotworth.report.record_sheets import record_page

SHEETS_FOLDER, PAGE_FILE = "record_sheets", "record_sheets.html"
PLOTS_FILE, DEVIATIONS_FILE = "plots.csv", "deviations.csv"


def plan_layout(plan: Plan) -> Layout:
    """Return the layout that a plan's design, seed, columns and rule of redraws give, whatever plots it lists."""
    return draw_layout(plan_design(plan), seed=plan.seed, columns=plan.columns, redraw=plan.redraw_rule != NO_REDRAW)


def drawn_plan(outline: Plan) -> Plan:
    """Return the plan with the plots that its seed draws; its own plots and redraws do not count.

    `columns` of 0 becomes the full width of a block. Raises FaultsError with every fault of the outline.
    """
    columns = outline.columns
    if faults := plan_faults(replace(outline, columns=columns or 1, plots=())):
        raise FaultsError(faults)
    allowed = allowed_columns(plan_design(outline))
    if columns and columns not in allowed:
        rule = "a block fills whole rows, and a whole plot stays in one row"
        remedy = f"write {' or '.join(str(width) for width in allowed)}"
        raise FaultsError([Fault(FILE, 0, "columns", str(columns), rule, remedy)])
    layout = plan_layout(outline)
    plots = tuple(
        PlannedPlot(plot.name, plot.block, plot.treatment, plot.levels, plot.row, plot.column) for plot in layout.plots
    )
    plan = replace(outline, columns=layout.columns, redraws=layout.redraws, plots=plots)
    if faults := plan_faults(plan):
        raise FaultsError(faults)
    return plan


def freeze_plan(folder: Path, plan: Plan) -> tuple[str, ...]:
    """Write a drawn plan into a case folder: `plan.toml`, the plots, an empty deviations.csv, the record sheets.

    The plots go into the sheet `plots` of `tables.xlsx` where the case keeps its tables there, else into plots.csv.
    Returns a sentence for each file. Raises CaseError where the folder is no case, has a plan already, lists plots
    already or has record sheets; nothing is written then.
    """
    _refuse(folder)
    size = plan_size(plan)
    rows, header = plot_rows(plan, plants=size.plants, net_area_m2=size.net_area_m2), plots_header(plan)
    write_whole(folder / FILE, plan.text())
    if (folder / EXCEL_FILE).exists():
        _fill_plots(folder / EXCEL_FILE, rows, header)
        plots = f"{EXCEL_FILE}: {len(rows)} plots in the sheet plots; write planted_on when they are planted."
    else:
        write_csv(folder / PLOTS_FILE, header, rows)
        plots = f"{PLOTS_FILE}: {len(rows)} plots; write planted_on when they are planted."
        if not (folder / DEVIATIONS_FILE).exists():
            write_csv(folder / DEVIATIONS_FILE, tuple(table_columns()["deviations"]), [])
    sheets = folder / SHEETS_FOLDER
    sheets.mkdir(exist_ok=True)
    page = record_page(plan, plan_facts(plan), invented=_is_invented(folder))
    (sheets / PAGE_FILE).write_text(page, encoding="utf-8", newline="")
    write_forms(sheets, rows, header)
    frozen = f"{FILE}: frozen on {plan.frozen_on.isoformat()}, hash {plan.sha256[:12]}."
    return frozen, plots, f"{SHEETS_FOLDER}/{PAGE_FILE}: sheets to print; the same tables as CSV beside it."


def _refuse(folder: Path) -> None:
    if not (folder / SETTINGS_FILE).exists():
        raise CaseError(f"{folder}: holds no {SETTINGS_FILE}; make a case first with `plotworth new FOLDER`.")
    if (folder / FILE).exists():
        raise CaseError(
            f"{FILE}: a frozen plan is not overwritten. After planting, write what is done otherwise into "
            f"{DEVIATIONS_FILE}; before planting, move the file away and plan anew."
        )
    for path, sheet in (
        (folder / PLOTS_FILE, read_csv(folder / PLOTS_FILE) if (folder / PLOTS_FILE).exists() else None),
        (folder / EXCEL_FILE, read_excel(folder / EXCEL_FILE, "plots") if (folder / EXCEL_FILE).exists() else None),
    ):
        if sheet and sheet.rows:
            raise CaseError(f"{path.name}: lists plots already; move them away, so that none is overwritten.")
    if (folder / SHEETS_FOLDER).is_dir() and any((folder / SHEETS_FOLDER).iterdir()):
        raise CaseError(f"{SHEETS_FOLDER}: holds record sheets already; move them away, so that none is overwritten.")


def _fill_plots(path: Path, rows: list[dict[str, str]], header: tuple[str, ...]) -> None:
    """Write the plots into the sheet of a workbook that someone may have filled elsewhere; the rest stays."""
    from openpyxl import load_workbook

    book = load_workbook(path)
    sheet = book["plots"] if "plots" in book.sheetnames else book.create_sheet("plots")
    present = [str(cell.value) for cell in sheet[1] if cell.value]
    columns = [*present, *(name for name in header if name not in present)]
    for number, name in enumerate(columns, start=1):
        sheet.cell(1, number, name)
        kind = table_columns()["plots"].get(name)
        for line, row in enumerate(rows, start=2):
            if text := row.get(name, ""):
                cell = sheet.cell(line, number, float(text) if kind and kind.kind in ("number", "whole") else text)
                cell.data_type = "n" if isinstance(cell.value, float) else "s"  # a name such as =A is no formula
    book.save(path)


def _is_invented(folder: Path) -> bool:
    """Return what case.toml says; a case that is still being filled in says nothing yet."""
    try:
        return read_settings(folder).invented
    except FaultsError:
        return False


def plan_facts(plan: Plan) -> tuple[str, ...]:
    """Return what to know of a plan as sentences: sizes, guards, how it was drawn, and what it can show."""
    size = plan_size(plan)
    return (*_size_facts(plan, size), _drawn_fact(plan), *_power_facts(plan))


def _size_facts(plan: Plan, size: PlotSize) -> tuple[str, ...]:
    net = (
        f"Net plot, harvested and recorded: {size.rows} x {size.plants_per_row} = {size.plants} plants on "
        f"{amount_text(size.net_area_m2, 'm²')}, {plan.spacing_in_row_m:g} m in the row and "
        f"{plan.spacing_between_rows_m:g} m between rows."
    )
    guards = (
        f"Guard plants, grown and not recorded: {size.guards} a plot, between the broken line and the white."
        if size.guards
        else ("No guard plants: the outer plants of a plot feel their neighbours' treatment.")
    )
    total = len(plan.plots)
    gross = (
        f"Gross plot {size.width_m:g} x {size.depth_m:g} m; {total} plots take {total * size.gross_plants} plants and "
        f"{amount_text(total * size.gross_area_m2, 'm²')} without paths."
    )
    return net, guards, gross


def _drawn_fact(plan: Plan) -> str:
    times = (
        f"; redrawn {plan.redraws} time{'' if plan.redraws == 1 else 's'}"
        if plan.redraws
        else "; the first draw stands"
    )
    return f"Rule of the draw: {plan.redraw_rule}{times}."


def _power_facts(plan: Plan) -> tuple[str, ...]:
    if plan.expected_cv is None:
        return ("What the trial can show is not known: no CV between plots was given.",)
    return card_lines(power_card(plan_design(plan), plot_cv=plan.expected_cv, gain=plan.smallest_gain_share))


def plan_summary(plan: Plan) -> str:
    """Return map and facts of a plan as text for the terminal.

    Raises FaultsError where its plots are not those that its seed draws.
    """
    layout = plan_layout(plan)
    redrawn = [(plot.name, plot.block, plot.treatment, plot.row, plot.column) for plot in layout.plots]
    listed = [(plot.plot, plot.block, plot.treatment, plot.row, plot.column) for plot in plan.plots]
    if redrawn != listed or layout.redraws != plan.redraws:
        rule, remedy = "the seed draws other plots than the plan lists", "put the file back as it was frozen"
        raise FaultsError([Fault(FILE, 0, "seed", str(plan.seed), rule, remedy)])
    lines = [*plan_facts(plan), *layout.segregation]
    return "\n\n".join([text_map(layout, gradient_from=plan.gradient_from), "\n".join(lines)])


def frozen_summary(folder: Path) -> str:
    """Return the summary of a case's frozen plan.

    Raises CaseError where the case has none, FaultsError where it is broken.
    """
    plan = read_plan(folder)
    if plan is None:
        raise CaseError(f"{folder}: has no {FILE}; make one with `plotworth plan CASE --design ...`.")
    frozen = f"Frozen on {plan.frozen_on.isoformat()}; hash {plan.sha256[:12]} holds; seed {plan.seed} draws it again."
    return f"{plan.question}\n{frozen}\n\n{plan_summary(plan)}"
