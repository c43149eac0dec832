"""Physics of a log: evaporation, humidity, wood moisture."""
