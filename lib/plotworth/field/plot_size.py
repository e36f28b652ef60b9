"""One plot on the ground: rows of plants, the spacing between them, and the guard plants around what is harvested."""

from dataclasses import dataclass


@dataclass(frozen=True)
class PlotSize:
    """A rectangular plot of harvested plants with a border of guard plants that are grown and not recorded.

    Attributes: rows and plants_per_row, harvested; spacing in the row [m] and between rows [m]; guard_rows along each
    side; guard_plants at each end of every row. The rows run across the gradient, as the blocks do.
    """

    rows: int
    plants_per_row: int
    spacing_in_row_m: float
    spacing_between_rows_m: float
    guard_rows: int = 0
    guard_plants: int = 0

    @property
    def plants(self) -> int:
        """Plants of the net plot, which are harvested and recorded."""
        return self.rows * self.plants_per_row

    @property
    def gross_plants(self) -> int:
        """All plants of the plot, guards among them."""
        return (self.rows + 2 * self.guard_rows) * (self.plants_per_row + 2 * self.guard_plants)

    @property
    def guards(self) -> int:
        """Guard plants of the plot."""
        return self.gross_plants - self.plants

    @property
    def plant_area_m2(self) -> float:
        """Ground of one plant [m2]: spacing in the row x spacing between rows."""
        return self.spacing_in_row_m * self.spacing_between_rows_m

    @property
    def net_area_m2(self) -> float:
        """Harvested ground [m2]: plants x ground of a plant; what yields are divided by."""
        return self.plants * self.plant_area_m2

    @property
    def gross_area_m2(self) -> float:
        """Ground that the plot takes [m2], guards among it, paths between plots not."""
        return self.gross_plants * self.plant_area_m2

    @property
    def width_m(self) -> float:
        """Gross length along the rows [m]."""
        return (self.plants_per_row + 2 * self.guard_plants) * self.spacing_in_row_m

    @property
    def depth_m(self) -> float:
        """Gross length across the rows [m]."""
        return (self.rows + 2 * self.guard_rows) * self.spacing_between_rows_m
