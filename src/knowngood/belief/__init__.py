"""What is probably wrong? Exact inference over the faults a map allows, given a log."""

from knowngood.belief.network import FactorNetwork, Posteriors

__all__ = ["FactorNetwork", "Posteriors"]
