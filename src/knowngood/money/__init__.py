"""What is it worth? Sums of one unit's ledger."""
