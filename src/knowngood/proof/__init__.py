"""Is it known good? What is still unproven, and how sure the rest is."""
