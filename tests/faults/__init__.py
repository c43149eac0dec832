"""Disks, machines, networks and clocks that fail, and input that is wrong but plausible."""
