"""What the grower has: yard.toml and stacks.csv."""
