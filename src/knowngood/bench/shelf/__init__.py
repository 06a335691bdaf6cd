"""What is to become of everything on the shelf? A plan over all units, what was accepted of it, and the orders."""
