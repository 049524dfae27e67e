"""The next build: what can be changed within what is locked, and what each change promises.

`changes.toml` lists the changes; `catalogue` reads it; `envelope` says for which of them there is room; `effects`
joins the effects of several; `outlook` reckons the probability that the load exceeds the capacity; `plans` ranks.
`roads`, `growth` and `cost` hold the arithmetic of road sections, of swelling, and of money.
"""
