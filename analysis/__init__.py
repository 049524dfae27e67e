"""From the photo of a broken printed part to a verdict, as plain arithmetic.

The road, one folder a stage; a stage never imports a later one:

* `common` what every stage may use: class codes, caveats, polygons as such;
* `materials` reads designations and says what is known of a polymer and what fits a place of use; no photo is needed;
* `imaging` turns bytes into an upright picture or refuses them by name, and says how many micrometres a pixel is;
* `fields` makes one picture of several captures of a face: side by side, or a focus series with its heights;
* `outlines` finds or checks the polygon around the face and the holes in it;
* `roads` crops the face to the resolution its roads need and unrolls its walls along the outline;
* `welds` calls each place bonded, bare, void or unknown, from cues that can be shown;
* `reading` puts the three together for one half;
* `measures` counts those places: shares with intervals, gaps, planes, sections; the count by hand; the outer surface;
* `halves` lays two mating faces on each other;
* `course` says how the break went over the face, where that stands out from chance;
* `strength` turns the welds and a load into stresses, capacities and chances;
* `evidence` weighs what was measured and what the person saw, up to the verdict;
* `life` tells from ages at failure, and ages reached without one, how long parts last; no photo is needed;
* `examine` is the only file that knows all the others; `training` makes the stored weights and is not used at run time.

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
