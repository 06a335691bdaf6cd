"""How do people use it? The store and the bench's own log."""
