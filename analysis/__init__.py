"""From the photo of a broken printed part to a verdict, as plain arithmetic.

The road, one room a stage; a stage never imports a later one:

    photo -> scale -> outline -> straightened walls -> measures with intervals -> evidence -> verdict

* `photo` turns bytes into an upright picture, or refuses them by name;
* `scale` says how many micrometres a pixel is, and how sure that is;
* `outline` finds or checks the polygon around the face and the holes in it;
* the walls are unrolled along that polygon and each place on them is called bonded, bare, void or unknown;
* the measures count those places; evidence and verdict weigh what was measured and what the person saw;
* `examine` is the only room that knows all the others.

Nothing here touches the web, a database, the clock (but for the stage times) or the disk (but for reading a photo).

Coordinates and units, for every room:

* arrays are indexed (row, col) and a value sits at its pixel's centre;
* points are (x, y), x right and y down, whole numbers at pixel centres, in px of the original upright photo or in mm,
  as the name's suffix says;
* a photo read at reduced size keeps `px_per_pixel`: array place c lies at photo place (c + 1/2) * px_per_pixel - 1/2;
* angles are in degrees, 0 along +x, growing clockwise as seen on the photo, modulo 180 for directions without sense;
* lengths are mm, temperatures degrees Celsius, forces N, stresses MPa, and a name carries its unit.

A number that cannot be had is None with a reason, never 0.
"""
