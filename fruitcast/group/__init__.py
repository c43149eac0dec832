"""Many yards: an adviser's round, a group that sells together, a district's outlook."""
