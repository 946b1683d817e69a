"""How closely the frame model is held to an independent general frame program (PyNiteFEA) by the test suite.

The program is a tool of the tests and no part of the application, so the figures stand here, where both the tests and
the page that tells of them read them.
"""

RANDOM_CONSTRUCTS = 30  # for each plane, drawn at random; gaps and several fracture lines among them
SMALL_GAP_CONSTRUCTS = 10  # more, with gaps so small that the load may close them
RELATIVE_TOLERANCE = 1e-6
