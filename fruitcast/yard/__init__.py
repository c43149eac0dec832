"""What the grower has and has done: yard.toml, stacks.csv, the diary."""
