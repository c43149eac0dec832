"""The use cases, one function each: what the command line and the page may ask for."""
