"""What to pay for a unit that is not bought yet: what it would bring, the most to pay, what is worth asking first.

Start reading at ``outcome`` (what drawn units came to) and ``most`` (the bid); ``drawing`` makes the draws, ``exact``
does without them on small maps, ``question`` values information, ``listing`` hears a seller's words, ``ranking`` spends
a budget.
"""
