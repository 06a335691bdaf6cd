"""Search for the cheapest way to a working unit: an abstract problem, and what to do next in it.

``problem`` says what a problem is and keeps its books exactly; ``reduced`` is the arrays a search works on; ``known``
and ``chain`` bound what is still to be paid from below and above; ``best_first`` searches between them.
"""
