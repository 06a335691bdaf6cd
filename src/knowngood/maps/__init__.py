"""What is this device? The schema of a map, its loader and checker, the kinds library and the starter maps."""
