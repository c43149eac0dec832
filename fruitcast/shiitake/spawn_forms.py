"""What a batch of logs takes: bit and depth, spawn, wax, hours, trees and floor."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, pi

from fruitcast.numbers import Numbers
from fruitcast.topics import Tool

WAXLESS = "thimble"
"""The form of spawn that comes with its own cap."""


@dataclass(frozen=True)
class Materials:
    """What a batch takes.

    Attributes
    ----------
    bit, depth : float
        Of the holes: drill bit, and depth at which to set the stop. [m]
    holes : int
        In all logs.
    pieces : int
        Plugs or thimbles to buy, spare ones included; 0 for sawdust.
    sawdust : float
        Sawdust spawn to buy, what is spilt included; 0 for plugs and thimbles. [kg]
    wax : float
        Food-grade wax. [kg]
    drilling_hours, filling_hours, waxing_hours, handling_hours : float
        Work of one pair of hands. [h]
    trees : int
        Trees to fell.
    floor : float
        Ground that the stacked logs stand on. [m2]
    """

    bit: float
    depth: float
    holes: int
    pieces: int
    sawdust: float
    wax: float
    drilling_hours: float
    filling_hours: float
    waxing_hours: float
    handling_hours: float
    trees: int
    floor: float

    @property
    def hours(self) -> float:
        """Work in all. [h]"""
        return self.drilling_hours + self.filling_hours + self.waxing_hours + self.handling_hours


def hole_size(spawn: str, numbers: Numbers) -> tuple[float, float]:
    """Return drill bit and depth of the holes for a form of spawn. [m, m]"""
    return numbers.inoculation.hole(spawn)


def sawdust_per_hole(bit: float, depth: float, numbers: Numbers) -> float:
    """Return the sawdust spawn pressed into one hole.

    Parameters
    ----------
    bit, depth : float
        Of the hole. [m]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    float
        What is spilt left out. [kg]
    """
    return pi / 4 * bit**2 * depth * numbers.inoculation.sawdust_density


def stack_floor(logs: int, diameter: float, length: float, numbers: Numbers) -> float:
    """Return the ground under logs stacked crosswise, layer on layer, in square stacks.

    Parameters
    ----------
    logs : int
        Logs.
    diameter, length : float
        Over bark. [m]
    numbers : Numbers
        The numbers in use.

    Returns
    -------
    float
        Without the paths between the stacks. [m2]
    """
    a_layer = max(floor(length / (diameter + numbers.inoculation.stack_gap)), 1)
    layers = max(floor(numbers.inoculation.stack_height / diameter + 1e-9), 1)
    return ceil(logs / (a_layer * layers)) * length**2


def materials(
    logs: int,
    holes_per_log: int,
    diameter: float,
    length: float,
    spawn: str,
    tool: Tool,
    numbers: Numbers,
    *,
    seal_ends: bool = False,
) -> Materials:
    """Return what a batch of logs takes.

    Parameters
    ----------
    logs, holes_per_log : int
        Logs, and holes in each.
    diameter, length : float
        Over bark. [m]
    spawn : str
        Form of spawn.
    tool : str
        One of `TOOLS`.
    numbers : Numbers
        The numbers in use.
    seal_ends : bool, default False
        Whether the cut ends are waxed as well.
    """
    bit, depth = hole_size(spawn, numbers)
    holes = logs * holes_per_log
    pieces, sawdust = 0, 0.0
    if spawn == "sawdust":
        spilt = 1 + numbers.inoculation.sawdust_spilt
        sawdust = holes * sawdust_per_hole(bit, depth, numbers) * spilt
    else:
        pieces = ceil(holes * (1 + numbers.inoculation.spare_spawn) - 1e-9)
    waxed = 0 if spawn == WAXLESS else holes
    ends = 2 * logs * pi / 4 * diameter**2 if seal_ends else 0.0
    return Materials(
        bit=bit,
        depth=depth,
        holes=holes,
        pieces=pieces,
        sawdust=sawdust,
        wax=waxed * numbers.inoculation.wax_per_hole + ends * numbers.inoculation.wax_per_end_area,
        drilling_hours=holes * numbers.inoculation.drilling_seconds(tool) / 3600,
        filling_hours=holes * numbers.inoculation.filling_seconds(spawn) / 3600,
        waxing_hours=waxed * numbers.inoculation.wax_seconds / 3600,
        handling_hours=logs * numbers.inoculation.handling_seconds / 3600,
        trees=ceil(logs / numbers.inoculation.logs_a_tree - 1e-9),
        floor=stack_floor(logs, diameter, length, numbers),
    )
