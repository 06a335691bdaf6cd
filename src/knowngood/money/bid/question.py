"""What an answer is worth before a decision: the decision after it, on average, less the decision without it.

Source: R. Howard, Information value theory, IEEE Transactions on Systems Science and Cybernetics 2 (1966) [from
memory].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Information:
    """What a question is worth, and what each answer would make of the decision."""

    blind: float
    """What the best act is worth without an answer."""
    informed: float
    """What the best act after the answer is worth on average."""
    chances: Array
    """Chance of each answer, shape (answers,)."""
    acts: Array
    """What each act is worth after each answer, shape (acts, answers); NaN after an impossible one."""

    @property
    def worth(self) -> float:
        """What the answer is worth; never below nothing but for rounding."""
        return self.informed - self.blind


def value_of(prior: Array, payoff: Array, likelihood: Array) -> Information:
    """The value of an answer.

    ``prior`` (states,) sums to one; ``payoff`` (acts, states) is what each act brings in each state; ``likelihood``
    (states, answers), rows summing to one, is the chance of each answer. An answer that is the state itself (the unit
    matrix) gives the value of perfect information.
    """
    joint = prior[:, None] * likelihood
    chances = joint.sum(axis=0)
    brings = payoff @ joint
    with np.errstate(divide="ignore", invalid="ignore"):
        acts = np.where(chances > 0.0, brings / chances, np.nan)
    return Information(float((payoff @ prior).max()), float(brings.max(axis=0).sum()), chances, acts)


def pooled(weights: Array, likelihood: Array, least: float) -> Array:
    """The likelihoods (units, answers) with answers that too few drawn units speak for put together as one more.

    Few units make an answer look telling by their luck alone. Together they tell nothing, which is too little at most.
    ``least`` counts units as equals would be: (sum w)^2 / sum w^2 (L. Kish, Survey Sampling, 1965 [from memory]). The
    columns keep their order and number; those put together are nothing, and one more stands for them at the end.
    """
    joint = weights[:, None] * likelihood
    squares = (joint**2).sum(axis=0)
    alike = np.divide(joint.sum(axis=0) ** 2, squares, out=np.zeros_like(squares), where=squares > 0.0)
    enough = alike >= least
    return np.column_stack([likelihood * enough, likelihood[:, ~enough].sum(axis=1)])
