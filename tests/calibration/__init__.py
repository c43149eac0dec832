"""Whether the program keeps what it says, tried on many yards drawn from its own priors."""
