"""Where the money is: an account for each unit and one for the shelf, closing to the cent; and what an hour brought.

Cash moves a sum in or out. A part that moves takes its share of what its unit cost along, from account to account. What
a thing was thought to be worth is noted and moves nothing.
"""
