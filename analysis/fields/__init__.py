"""Several captures of one face -> one picture: fields laid side by side, or a focus series merged with its heights.

A capture's place is a `Place`: its point z = x + iy (x right, y down, px at pixel centres) lies at turn * z + shift of
the common picture. `detail` and `drift` compare two captures, `overlap` judges whether they show the same spot,
`placing` lays all of them out at once, `seams` draws the picture, `stitch` is the door. `depth` finds where a series is
sharp, `focus` is its door; `levels` counts the steps of a height map in whole layers.
"""
