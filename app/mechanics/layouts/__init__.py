"""The map of layouts: every figure of all 2ⁿ ways to fill the holes of a plate, as quick as a few single solutions.

`groups` shares the layouts among sets of nodes, `ladder` makes a group's parts, `front` eliminates them from both ends,
`pairs` joins the two sides, `faces`, `tightened` and `turned` settle contact and friction, `recovery` finds stress and
screw forces, and `loading` and `solve` put them together.
"""
