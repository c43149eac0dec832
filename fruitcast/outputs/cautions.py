"""The cautions, each written once, and where each belongs.

They remind; they don't teach. Local rules, the makers' instructions and people licensed or
trained for the work come first.
"""

from __future__ import annotations

from typing import Literal

Topic = Literal[
    "saw",
    "drill",
    "grinder",
    "wax",
    "lifting",
    "spores",
    "tank",
    "lookalikes",
    "cooking",
    "food rules",
    "deference",
]

CAUTIONS: dict[Topic, str] = {
    "saw": (
        "Chain saw: eye, ear, hand and leg protection, never alone; felling is work for people "
        "trained for it."
    ),
    "drill": "Drill: eye and ear protection; clamp the log and keep hands clear of the bit.",
    "grinder": (
        "Angle grinder: only with adapter and bit made for each other and for its speed, as the "
        "maker says; eye, ear and hand protection."
    ),
    "wax": (
        "Hot wax burns and catches fire: melt it in a water bath or a thermostat pot, never over "
        "an open flame, never left alone. Use food-grade wax."
    ),
    "lifting": "Wet logs are heavy: lift with care.",
    "spores": (
        "Spores: people who worked indoors among fruiting shiitake became ill at high counts. Air "
        "the room, wear a respirator, see a doctor about a cough that stays."
    ),
    "tank": "Cover the tank: open water drowns children and animals.",
    "lookalikes": (
        "Pick only what you can name: deadly mushrooms such as galerina grow on hardwood logs too."
    ),
    "cooking": (
        "Cook shiitake thoroughly: raw or underdone it can bring a rash a day or two later."
    ),
    "food rules": (
        "Mushrooms for sale fall under food safety rules (in the US the FSMA Produce Safety Rule): "
        "clean water, hands, tools and boxes."
    ),
    "deference": (
        "Local rules, the makers' instructions and licensed or trained advice come before anything "
        "said here."
    ),
}
"""What to beware of."""


def inoculation_cautions(tool: str, *, waxed: bool) -> tuple[str, ...]:
    """Return the cautions for felling, drilling and inoculating."""
    topics: list[Topic] = ["saw", "grinder" if tool == "grinder" else "drill"]
    if waxed:
        topics.append("wax")
    topics += ["lifting", "deference"]
    return tuple(CAUTIONS[topic] for topic in topics)


def growing_cautions(*, sells: bool = True) -> tuple[str, ...]:
    """Return the cautions for growing and picking, and for selling where that is done."""
    topics: list[Topic] = ["lifting", "tank", "spores", "lookalikes", "cooking"]
    if sells:
        topics.append("food rules")
    return tuple(CAUTIONS[topic] for topic in (*topics, "deference"))
