"""Why this advice: what each outcome leads to, what would change it, and what changed it."""
