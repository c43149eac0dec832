"""Tell what a change of the program did to the kept answers; with --keep, keep the new ones.

python -m tests.golden [--keep]
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.golden.answers import CASES, KEPT, answers


def changes(before: dict[str, Any], after: dict[str, Any]) -> list[str]:
    """Return what differs between two plans in soaks, weights and promises, a line each."""
    lines = []
    old, new = ({(s["stack"], s["soak_on"]): s for s in plan["soaks"]} for plan in (before, after))
    for key in sorted(old.keys() | new.keys()):
        stack, day = key
        if key not in new:
            lines.append(f"  soak dropped  {stack:6} {day}  {old[key]['expected_kg']:.2f} kg")
        elif key not in old:
            lines.append(f"  soak new      {stack:6} {day}  {new[key]['expected_kg']:.2f} kg")
        elif _moved(old[key]["expected_kg"], new[key]["expected_kg"]):
            was, now = old[key]["expected_kg"], new[key]["expected_kg"]
            lines.append(f"  soak weight   {stack:6} {day}  {was:.2f} -> {now:.2f} kg")
    sales = {(s["outlet"], s["on"]): s for s in before["outlets"]}
    for sale in after["outlets"]:
        was = sales.get((sale["outlet"], sale["on"]))
        told = [
            f"{name} {was[name + '_kg']:.2f} -> {sale[name + '_kg']:.2f}"
            for name in ("delivered", "promise")
            if was and _moved(was[name + "_kg"], sale[name + "_kg"])
        ]
        if told:
            lines.append(f"  {sale['outlet']} {sale['on']}: {', '.join(told)} kg")
    for name in ("objective_kg", "bound_kg", "demand_kg"):
        was, now = before.get(name), after.get(name)
        if was != now:
            lines.append(f"  {name} {was} -> {now}")
    return lines


def _moved(was: float, now: float) -> bool:
    return abs(was - now) >= 0.005


def main(words: list[str]) -> int:
    """Compare, print, and keep what is new where that is asked for."""
    keep = words == ["--keep"]
    if words and not keep:
        print(__doc__)
        return 2
    differs = False
    for case in CASES:
        with tempfile.TemporaryDirectory() as name:
            given = answers(case, Path(name) / "yard")
        folder = KEPT / case.name
        kept = {path.name: path for path in folder.glob("*")}
        other = [
            name
            for name in sorted(given.keys() | kept.keys())
            if name not in given
            or name not in kept
            or kept[name].read_bytes() != given[name].encode("utf-8")
        ]
        print(f"{case.name}: {', '.join(other) + ' differ' if other else 'as kept'}")
        differs = differs or bool(other)
        if "plan.json" in other and "plan.json" in kept and "plan.json" in given:
            before = json.loads(kept["plan.json"].read_text(encoding="utf-8"))
            print("\n".join(changes(before, json.loads(given["plan.json"]))))
        if keep:
            folder.mkdir(parents=True, exist_ok=True)
            for path in kept.values():
                path.unlink()
            for name, text in given.items():
                (folder / name).write_bytes(text.encode("utf-8"))
    return 1 if differs and not keep else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
