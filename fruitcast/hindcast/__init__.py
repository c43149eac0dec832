"""Past seasons lived through again, and who else might decide."""
