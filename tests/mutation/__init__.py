"""How many small damages to the model and the scheduler the tests notice."""
