"""And in a browser? Pages over the same questions and acts as the terminal: views ask, templates only show."""
