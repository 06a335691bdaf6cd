"""Which units to finish and which to part out, who takes what from whom, what to buy: one optimum over the shelf."""
