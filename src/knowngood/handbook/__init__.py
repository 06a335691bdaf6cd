"""What does the book say? Sourced tables and formulae, and quantities as people write them."""
