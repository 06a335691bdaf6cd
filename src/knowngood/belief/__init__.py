"""What is probably wrong? Exact inference over the faults a map allows, given a log."""
