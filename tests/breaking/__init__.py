"""Breaking it: bad input by machine, and damage as found in life."""
