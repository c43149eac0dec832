"""The picture at the README's top: the sample yard's plan, drawn by the report's own plots.

`python -m tests.report.readme_picture` makes it anew.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from fruitcast.app.demo import TODAY, write_sample_yard
from fruitcast.app.planning import plan_yard
from fruitcast.app.reporting import report_data
from fruitcast.outputs.plots import WIDE, in_style, plot_supply
from fruitcast.outputs.plots_season import plot_season, strip_height
from fruitcast.outputs.report import courses_of
from fruitcast.outputs.report_parts import ReportData
from fruitcast.words import day_words

PICTURE = Path(__file__).parents[2] / "notebooks" / "plan.png"
DPI = 140


@in_style
def draw(data: ReportData) -> Figure:
    """Return the season of every stack above what its first outlet can be promised."""
    strip = courses_of(data).strip
    name = data.yard.outlets[0].name
    sales = [sale for sale in data.plan.outlets if sale.outlet == name]
    above, below = strip_height(strip, 0.2) + 0.3, 2.0
    figure = Figure((WIDE, above + below), layout="constrained")
    FigureCanvasAgg(figure)
    upper, lower = figure.subplots(2, height_ratios=(above, below))
    plot_season(strip, upper)
    day = f"{day_words(data.today)} {data.today.year}"
    upper.set_title(
        f"{data.yard.name}, {day}: when to soak which stack, when to pick",
        loc="left",
        pad=38,
    )
    plot_supply(sales, data.yard.units, lower, span=(strip.first, strip.last))
    lower.set_title(f"{name}: what can be promised", loc="left", pad=20)
    return figure


def save(data: ReportData, file: Path) -> None:
    """Write the picture."""
    draw(data).savefig(file, dpi=DPI, metadata={"Software": None})


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        yard = write_sample_yard(Path(folder) / "larkspur")
        plan_yard(yard, TODAY)
        save(report_data(yard, TODAY), PICTURE)
