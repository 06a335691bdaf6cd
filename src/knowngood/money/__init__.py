"""What is it worth? What is only expected, and the ledger of what was paid and got."""
