"""The layout as a map: a text for the terminal, rows for a chart."""

from dataclasses import dataclass

from plotworth.field.layout import Layout, Plot
from plotworth.field.plot_size import PlotSize

GAP = "  "


@dataclass(frozen=True)
class MapRow:
    """A plot for a chart: name, block, treatment; centre x and y [m] from the corner of plot 1, y away from the side
    where the gradient begins; gross width and depth [m]; net width and depth [m].
    """

    plot: str
    block: str
    treatment: str
    x_m: float
    y_m: float
    gross_width_m: float
    gross_depth_m: float
    net_width_m: float
    net_depth_m: float


def text_map(layout: Layout, *, gradient_from: str) -> str:
    """Return the map as lines: a row of plots with their treatments, blocks named at the left, the side at the top."""
    plots = layout.plots
    name_width = max(len(plot.block) for plot in plots)
    cell_width = max(max(len(plot.name), len(plot.treatment)) for plot in plots)
    lines = [f"{gradient_from or 'the side nearest block 1'}"]
    for row in range(1, max(plot.row for plot in plots) + 1):
        cells = [plot for plot in plots if plot.row == row]
        lines.append(GAP.join([cells[0].block.ljust(name_width), *(plot.name.ljust(cell_width) for plot in cells)]))
        lines.append(GAP.join([" " * name_width, *(plot.treatment.ljust(cell_width) for plot in cells)]))
        lines.append("")
    return "\n".join(line.rstrip() for line in lines).rstrip()


def map_rows(layout: Layout, size: PlotSize, *, path_m: float = 0.0) -> tuple[MapRow, ...]:
    """Return the plots with their place on the ground.

    Parameters: layout; size of a plot; path between plots and between rows of plots [m].
    """
    return tuple(_map_row(plot, size, path_m) for plot in layout.plots)


def _map_row(plot: Plot, size: PlotSize, path_m: float) -> MapRow:
    return MapRow(
        plot.name,
        plot.block,
        plot.treatment,
        (plot.column - 0.5) * size.width_m + (plot.column - 1) * path_m,
        (plot.row - 0.5) * size.depth_m + (plot.row - 1) * path_m,
        size.width_m,
        size.depth_m,
        size.plants_per_row * size.spacing_in_row_m,
        size.rows * size.spacing_between_rows_m,
    )
