"""And from a terminal? Thin commands: parse, call, print."""
