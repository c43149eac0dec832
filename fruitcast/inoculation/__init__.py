"""How many logs of what to inoculate, and what one batch takes."""
