"""Why a stop or caution may come without a remedy: what was tried, and what the surgeon can change instead.

A remedy is offered only where it takes its own warning away and brings no other; where none does, this is said.
"""

UNMENDED = {
    "implant-fit": "No usual plate with as many holes keeps every screw in its fragment and clear of the fracture: "
    "choose another plate, or one of the suggested layouts.",
    "pattern-angle": "Choose the code, or draw the fracture as it is.",
    "principle-fit": "No lag screw that was tried catches the wedge and leaves the main line pressed, and for a bridge "
    "too many holes are filled: take screws out and bridge it, or choose one of the suggested layouts.",
    "screws-per-fragment": "No free hole over this fragment takes a bicortical screw, clear of the fracture: "
    "move the plate, or take a longer one.",
    "fill-in-poor-bone": "No hole over a fragment takes a bicortical locking screw, clear of the fracture: move "
    "the plate, or take a longer one.",
    "screw-density": "Each screw is needed for hold, and no longer plate of this series is made or fits the shaft: "
    "another principle or series has to be chosen.",
    "plate-span": "No longer plate of this series is made that fits the shaft with its holes where they are: move the "
    "plate along the bone, or choose another series.",
    "bridging-span": "No free hole where the innermost screws could go instead takes a bicortical screw, and none of "
    "them can be spared: move the plate along the bone.",
    "near-fracture": "No other free hole over this fragment would hold as much, and the screw is needed: move the "
    "plate, or take a longer one.",
    "crosses-fracture": "No other free hole over this fragment would hold as much, and the screw is needed: move the "
    "plate, or take a longer one.",
    "over-zone": "No other free hole over this fragment would hold as much: move the plate, or take a longer one.",
    "lag-valid": "No place, tilt or size that was tried presses this line squarely with a sound rim of bone and clear "
    "of the other screws: press it another way, or bridge it.",
    "lag-angle": "No place or tilt that was tried stands square to this line with a sound rim of bone and clear of the "
    "other screws: press it another way, or bridge it.",
    "lag-missing": "No place that was tried for a lag screw presses this line squarely with a sound rim of bone and "
    "clear of the other screws: compress it along the shaft if it is nearly transverse, or bridge it.",
    "steep-line": "No place that was tried for a lag screw presses this line squarely with a sound rim of bone: bridge "
    "it, or turn the plate to another surface.",
    "residual-line": "No further lag screw finds room across the main line, and no eccentric screw can close it: "
    "bridge the fracture, or catch the wedge from the other side.",
    "first-screw-side": "The screws that would have to change places are not there, or this plate cannot pull: give "
    "each side a screw next to the fracture first.",
    "eccentric-count": "Compression needs a plate that can pull and a screw on either side of the line: give each "
    "fragment its screws first, or choose another principle.",
    "eccentric-locked": "Even the derived order cannot put it right with these screws: change the locking screw of "
    "this fragment to a cortex screw.",
    "one-cortex": "A bicortical screw here would meet the fracture or hold nothing: move the plate, or "
    "leave the hole empty.",
    "screw-length": "No length made reaches the far cortex: take a plate with screws that are made longer.",
    "unstable": "Give the fragment a second screw, or one that locks: which hole and kind depends on the principle.",
    "strain-too-high": "Change the principle, close the gap, or lengthen the plate: which of them is the surgeon's "
    "choice.",
    "obtuse-first": "The derived order has the same fault with these screws: the side with the obtuse corner needs a "
    "screw of its own that holds it first.",
    "check-first-screw": "The derived order has the same fault with these screws: the other side needs a screw of its "
    "own first.",
    "compress-first": "The derived order has the same fault with these screws: take the lag or neutral screw out that "
    "comes before, or make the eccentric one neutral.",
    "lag-before-lock": "The derived order has the same fault with these screws.",
    "cortex-before-lock": "The derived order has the same fault with these screws.",
    "secure-other-end": "The derived order has the same fault with these screws: the other end needs a screw.",
}
