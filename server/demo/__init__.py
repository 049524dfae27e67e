"""An invented repair desk at an invented weaving school, to look around in. Nobody and nothing in it exists.

Its photos are rendered pictures; what is measured on them and concluded from them is made by the program itself
while the demo is loaded, never written down beforehand.
"""
