"""What next? Moves with their costs, hazards, and the choice between them."""
