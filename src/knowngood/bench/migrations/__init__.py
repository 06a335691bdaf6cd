"""The tables over time, each step named; run by itself when a store is opened."""
