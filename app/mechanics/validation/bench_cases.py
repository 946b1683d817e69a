"""Published bench tests: what each paper states, what it leaves out, and the figure to compare with. Facts only."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BenchCase:
    """One published test, as far as it could be read.

    Attributes:
        number: number of the test, from 1.
        title: what was measured.
        set_up: the test in words.
        inputs_read: inputs that the paper states (lengths in mm where no unit is given).
        missing: inputs that it leaves out, with the range assumed for each (lengths in mm where no unit is given).
        figure: the result to compare with, with its unit.
        source: the paper.
        standing: published (the figure was read in the page cited) or from memory (to be checked).
        tolerance: what counts as agreement, and why.
        cause: why some of its figures lie outside, as far as that is known; empty where none does.
    """

    number: int
    title: str
    set_up: str
    inputs_read: str
    missing: str
    figure: str
    source: str
    standing: str
    tolerance: str
    cause: str = ""


BENCH_CASES = (
    BenchCase(
        1,
        "Near-cortex motion of a 3.5 locking plate",
        "Plate with 11 combination holes on a plastic tube, 3 mm gap, axial load 150 N",
        "E 3.1 GPa, outer diameter 30, wall 7, cylinder 120 mm, gap 3, 11 holes, screws in the 2nd to 4th hole from "
        "the fracture, stand-off 2",
        "plate metal (steel or titanium), thickness 3.0-3.4 mm, width 11, pitch 13, hole 4.0 wide, round to "
        "8 long, screw core 2.9; both ends ball joints, one held, "
        "both held; that the two papers share one rig; 120 mm taken as the length of each piece",
        "0.282 mm at 150 N",
        "Döbele et al., Langenbecks Arch Surg 2010;395:421-8; BMC Musculoskelet Disord 2012;13:33",
        "published",
        "the figure lies within the band: supports alone move it several-fold, so no tighter limit is honest",
    ),
    BenchCase(
        2,
        "Stiffness of a broad titanium locking plate",
        "11-hole plate, screws in holes 1, 3 and 5 from each end, bone surrogate of strong bone",
        "hole pattern, number of holes, screw size, stand-off 1 (sister papers)",
        "tube 27 × 7 mm, plate 17.5 × 5.6 mm and gap 10 (from memory); E 10-16 GPa, pitch 17-20, holes 5.5 wide, "
        "round to 11 long, length 250-300 mm, screw core 4.0; supports; rigidity taken as "
        "moment × whole length ÷ rotation",
        "axial 2.9 kN/mm; bending 82.9 N·m²; torsion 0.40 N·m²/°",
        "Bottlang et al., J Bone Joint Surg Am 2009;91:1985-94, Table I",
        "published; geometry from memory",
        "the figure lies within the band over all assumptions",
        "torsion: solid finite elements of the geometry assumed here, made to check this model, give 0.97 N·m²/°, so "
        "the assumptions or the rig differ",
    ),
    BenchCase(
        3,
        "Stand-off and bending, 2.0 locking plate",
        "54 plates, three screws a fragment, stand-off 1, 1.5 and 3 mm, three working lengths, open gap, four-point "
        "bending and torsion",
        "screws per fragment, stand-offs, open gap",
        "plate 5.5 × 1.5 mm, pitch 7, rod 10-16 mm, E 3-17 GPa, working lengths in mm",
        "bending stiffness not changed by stand-off, torsion was (p = 0.047); both fall with working length",
        "2.0 mm plate, plate-bone distance and working length (authors not shown), bench study, abstract",
        "published",
        "trend: under 10 % change between 1 and 3 mm (the paper's scatter is not known), and a fall with working "
        "length",
    ),
    BenchCase(
        4,
        "Bicortical and unicortical screws in axial load",
        "11-hole plate on an osteoporotic femoral surrogate, screws in holes 1, 3 and 5 from each end",
        "holes, pattern, kinds of screw",
        "tube 27 mm, wall 2-5 mm, E 5-16 GPa, plate 17.5 × 5.6 titanium, pitch 18, holes 5.5 wide, round "
        "to 11 long, gap 10, ball joints",
        "axial stiffness differed by less than 10 %",
        "Fitzpatrick et al., Clin Biomech 2009;24:203-9, abstract",
        "published",
        "trend: less than 10 % between the kinds; non-locked on the bone against locked 1 mm off is a second row",
        "non-locked: in the model a plate pressed on the bone does not creep under its screws, and they have no free "
        "length over which to bend; how much of either the test had is not known",
    ),
    BenchCase(
        5,
        "Three against two screws per fragment",
        "Humerus, comminuted and bridged; eight-hole plate with 5 mm gap in the second paper",
        "eight holes, 5 mm gap",
        "bone 20-24 mm, wall 2-4 mm, E 8-17 GPa; which holes: the third screw "
        "between or beyond the other two; which group of the first paper had three screws is inferred",
        "ratio: axial 1.02, lateral 1.11, torsion 1.14 (scatter large); no difference in the second paper",
        "BioMed Res Int 2021;6649712, Table 1; J Orthop Trauma 2010;24:207-11, abstract",
        "published",
        "trend: not under 0.99, and not above the table's ratio by more than one standard deviation of it (1.53, "
        "1.81, 1.50)",
    ),
    BenchCase(
        6,
        "Gap size, working length and stand-off",
        "Finite elements of a locking plate on a cylinder with a transverse gap",
        "transverse gap, cylinder",
        "all sizes: tube 27 × 6 mm, E 17 GPa, plate 14 × 4.5 steel, 12 holes; ball joints and held",
        "gap size has no effect while open; axial stiffness falls with working length and with stand-off",
        "Nassiri et al., J Orthop 2013, abstract",
        "published",
        "trend: gap 1.5 to 10 mm changes nothing (1e-9); each longer working length and larger stand-off is softer",
    ),
    BenchCase(
        7,
        "One hole left free on each side",
        "12-hole titanium plate on a cylinder, open gap about 6 mm, three screws a fragment",
        "none",
        "everything: tube 27 × 6 mm, E 10-17 GPa, plate 14 × 4.5-5.2, pitch 18-20, holes 5.5 wide, round to 11 "
        "long, stand-off 1-2; ball joints (held ends shown apart)",
        "almost twice as flexible in compression and torsion (read as 1.7-2.2 and 1.5-2.2)",
        "Stoffel et al., Injury 2003;34 Suppl 2:B11-19",
        "from memory, to be checked",
        "ratio within the range read from 'almost twice'",
        "the range is read from memory; solid finite elements of two like pairs with ball joints, made to check this "
        "model, give 2.5 (round holes) and 2.3 (slots) in compression, 1.5 and 1.6 in torsion. How the ends were held "
        "decides: with held ends the model finds next to no difference, and the paper's lies between",
    ),
    BenchCase(
        8,
        "Compression by one and two eccentric screws",
        "3.5 compression plate on 20 mm plastic rods with a load cell between",
        "rod 20 mm, one or two load screws",
        "rod modulus 2.8-3.1 GPa, plate 11 × 3.3 steel, pitch 13, travel 1 mm, no slack, load cell as stiff as the "
        "rod; torque 1-2 N·m, K 0.3-0.6, slope of the hole 45°, friction 0.1-0.3 at the head and 0.1-0.35 under the "
        "plate",
        "131 N after the first, 296 N after the second screw (ratio 2.3)",
        "Ferringo et al., PLoS ONE 2023;18:e0286937",
        "published",
        "the figure lies within the band; what plans reckon with (2.4 N·m, K 0.5, friction as on bone) is told first",
        "what plans reckon with is three times the paper's: torque and friction of that test are not known. Second ÷ "
        "first: in the model each wedge adds the same; in the test the first may have taken up slack (a guess)",
    ),
    BenchCase(
        9,
        "Torsion of a 3.5 locking plate",
        "3.5 plate on a synthetic cylinder, open gap, four screw patterns",
        "plate size, open gap",
        "tube 20-30 mm, wall 3-5 mm, E 10-17 GPa, gap 3-10 mm, plate 11 × 3.3 steel or titanium, 8 holes, round to 8 "
        "long, length "
        "160-240 mm",
        "0.9-1.2 N·m/°",
        "Padron et al., BMC Res Notes 2017, doi 10.1186/s13104-017-3102-y, abstract and Fig. 3",
        "published",
        "bands overlap: order of magnitude only",
    ),
    BenchCase(
        10,
        "Far cortex touching in bending, plate on the tension side",
        "12-hole 3.5 plate, small gap, four-point bending, long working length",
        "12 holes, six specimens",
        "gap 1-2 mm, outer to inner roller 40-80 mm, tube 20-30 mm, plate 11 × 3.3 steel, holes round to 8 long, "
        "four screws a side with "
        "two or three holes free",
        "far cortex touched at 150-155 N",
        "12-hole 3.5 plate, short fragment, doi 10.1055/s-0044-1791701, abstract",
        "published",
        "bands overlap: needs the full text to mean more",
    ),
    BenchCase(
        11,
        "Pre-bend, torque, and compression by one eccentric screw",
        "Transverse fracture of plastic bone, straight plate and two pre-bends, one eccentric screw; screws in bovine "
        "bone at several torques",
        "pre-bend 0, 1.5 and 3 mm",
        "everything else as in test 8, torque 1 and 2 N·m",
        "with more pre-bend the force falls (and moves to the far cortex, which is not compared); the force of a screw "
        "rises with its torque up to 80 % of stripping",
        "Clin Biomech 2024, PMID 38401319; Fletcher et al., Clin Biomech 2019;70:40-5; abstracts",
        "published",
        "trends: a ratio that falls stays below 1, one that rises above it, in every run",
        "pre-bend: in the model a plate that springs back presses on top of what the wedge pushes, up to what yield "
        "and friction allow. On the bench the fragments may have followed the bent plate, so that part of the screw's "
        "way went into closing them (a guess; the abstract does not say)",
    ),
)
