"""Which unit gets the hands when, while others cure, dry or run by themselves."""
