"""The trade's arithmetic: numbers in, numbers out.

SI inside, with the unit in every name; money is `Decimal`; bad input raises `ValueError` naming the argument.

Glossary
--------
cell            one opening of a sheet, and one dot of the picture
lattice         how cells stand: `square`, `offset` or `hex`
pitch_m         distance between neighbouring cells' centres along a row
row_pitch_m     distance between neighbouring rows
sheet           a plastic sheet of slits; pulled open it is a net of openings
join, tab       two sheets meet along an edge; each tab of that edge is wrapped by hand
section         sheets joined before loading and carried as one
way             how a panel is loaded: `paired`, `two-sided`, `sandwich`, `strung`
latex           balloons as stock: nominal size, shape, colour
nominal_in      the size that a balloon is sold as, in inches: a name rather than a measure
sized_diameter_m  the diameter that a balloon is inflated to for this piece
elongation      length over diameter of an inflated balloon, 1.0 for a ball
cluster         three, four or five balloons tied together; a column is a stack of nested clusters
squeeze         the share taken off the layers' spacing by balloons pressing into each other, 0…1
built_at        `workshop` or `venue`: where a piece is inflated and loaded
fill            `air` or `helium`
key             the caller's number for a stock item, never looked into; None where no colour is chosen yet
middle          the time that half of all jobs stay under
80 %            the time that four jobs in five stay under
person-minutes  minutes of work, whoever does it; elapsed minutes are what the clock shows
cost, price     what a job costs the studio; what the client pays
"""
