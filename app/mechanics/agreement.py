"""How closely the frame model is held to an independent general frame program (PyNiteFEA) by the test suite.

That program is used by the tests only and is no part of the application. The figures stand here because both the tests
and the validation page read them.
"""

RANDOM_CONSTRUCTS = 30  # for each plane, drawn at random; gaps and several fracture lines among them
SMALL_GAP_CONSTRUCTS = 10  # more, with gaps so small that the load may close them
RELATIVE_TOLERANCE = 1e-6
