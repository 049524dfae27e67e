"""Could this face have carried that load: sections of the welds, loads with their lever arms, and chances.

`ranges` and `loadcase` say what is known of strength and load; `section` and `weldgroup` turn a map of welds into
stresses; `notch` and `interference` are closed forms of the trade; `facewelds` makes the maps from a measurement,
`knockdown` compares them, and `assess` puts it together.
"""
