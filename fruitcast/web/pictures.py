"""Pictures as SVG: the season's supply against what the outlets want, and the feed's QR code."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from markupsafe import Markup

from fruitcast.diary.plan import Sale
from fruitcast.units import Units, format_weight
from fruitcast.words import MONTHS

WIDTH, HEIGHT = 340, 170
_LEFT, _RIGHT, _TOP, _BOTTOM = 8, 8, 22, 24
_SHARES = {"wanted": 0.86, "expected": 0.6, "promise": 0.28}
"""Width of the columns, one inside the other, of a sale's room: they differ in grey too."""
_NAME = 30
"""Room that the name of a month needs."""


def supply_picture(sales: Sequence[Sale], title: str, units: Units) -> Markup:
    """Return columns over the season: in the one wanted what is likely, in that what is promised.

    There is at least one sale, all of one outlet, in order of day; the title says in words what the
    picture shows.
    """
    most = max(sale.target_kg for sale in sales) or 1.0
    room = (WIDTH - _LEFT - _RIGHT) / max(len(sales), 6)
    floor, rise = HEIGHT - _BOTTOM, (HEIGHT - _BOTTOM - _TOP) / most
    parts = [
        _opened(HEIGHT, title),
        f'<text class="scale" x="{_LEFT}" y="14">'
        f"{escape(format_weight(most, units))} wanted at most</text>",
    ]
    months: dict[tuple[int, int], float] = {}
    for place, sale in enumerate(sales):
        middle = _LEFT + (place + 0.5) * room
        for name, kg in (
            ("wanted", sale.target_kg),
            ("expected", sale.delivered_kg),
            ("promise", sale.promise_kg),
        ):
            wide = _SHARES[name] * room
            x, high = middle - wide / 2, min(kg, sale.target_kg) * rise
            parts.append(
                f'<rect class="{name}" x="{x:.1f}" y="{floor - high:.1f}" width="{wide:.1f}" '
                f'height="{max(high, 0.0):.1f}"/>'
            )
        months.setdefault((sale.on.year, sale.on.month), _LEFT + place * room)
    free = WIDTH - _NAME + 1.0  # from the right, so that a short first month makes room
    for (_, month), x in reversed(months.items()):
        if x <= free:
            parts.append(
                f'<text class="month" x="{x:.1f}" y="{HEIGHT - 7}">{MONTHS[month - 1]}</text>'
            )
            free = x - _NAME
    parts.append(f'<path class="floor" d="M{_LEFT} {floor}H{WIDTH - _RIGHT}"/></svg>')
    return Markup("".join(parts))


def _opened(high: int, title: str) -> str:
    return (
        f'<svg class="supply" viewBox="0 0 {WIDTH} {high}" role="img" '
        f'aria-label="{escape(title)}" xmlns="http://www.w3.org/2000/svg">'
    )


def beside_picture(rows: Sequence[tuple[str, float, float]], units: Units) -> Markup:
    """Return two bars for each of some names: as it is, and what if.

    A row is a name and the two weights [kg].
    """
    most = max((max(here, there) for _, here, there in rows), default=0.0) or 1.0
    title = "; ".join(
        f"{name}: {format_weight(here, units)} as it is, {format_weight(there, units)} what if"
        for name, here, there in rows
    )
    high = 46 * len(rows) + 4
    parts = [_opened(high, title)]
    for place, (name, here, there) in enumerate(rows):
        top = 46 * place
        parts.append(f'<text x="{_LEFT}" y="{top + 13}">{escape(name[:40])}</text>')
        for number, (kind, kg) in enumerate((("expected", here), ("promise", there))):
            wide = (WIDTH - _LEFT - _RIGHT) * kg / most
            parts.append(
                f'<rect class="{kind}" x="{_LEFT}" y="{top + 18 + 11 * number}" '
                f'width="{wide:.1f}" height="10"/>'
            )
    return Markup("".join([*parts, "</svg>"]))


def qr_picture(text: str, title: str) -> Markup:
    """Return a QR code (ISO/IEC 18004) as SVG, dark on light with the quiet border it needs."""
    import segno

    code = segno.make(text, error="m", micro=False)
    rows = [list(row) for row in code.matrix]
    border = 4
    size = len(rows) + 2 * border
    runs = "".join(
        f"M{x + border} {y + border}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, dark in enumerate(row)
        if dark
    )
    return Markup(
        f'<svg class="code" viewBox="0 0 {size} {size}" role="img" aria-label="{escape(title)}" '
        f'xmlns="http://www.w3.org/2000/svg"><rect class="light" width="{size}" '
        f'height="{size}"/><path class="dark" d="{runs}"/></svg>'
    )
