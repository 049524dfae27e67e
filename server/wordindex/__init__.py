"""The index of words over the whole record.

sources.py  which texts are found, whose they are, and what makes them newer
schema.py   the index and the triggers that keep it right; made, and made again, whenever they are not as they should be
asking.py   what a person types, as a query that no text can break
hits.py     where the words stand, in words and with a link
"""
