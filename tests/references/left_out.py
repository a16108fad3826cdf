"""Values of the sources that no check row holds, and why.

H and S number the collected sources: hydraulics, and strength, engine, wood and safety. A number
with rows may stand here too, for what its rows leave out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal, TypeAlias

from tests.references.check import Check

Kind: TypeAlias = Literal[
    "not in the model", "other formula", "input", "recalled", "contradictory", "no number",
    "in a test",
]  # fmt: skip
"""not in the model: no such part or result. other formula: the model uses another one for the same.
input: the study or the price list states it. recalled: nobody saw it. contradictory: the source, or
two sources, disagree. no number: words, or a number that the source does not print. in a test: held
by a test that is no row."""

HYDRAULICS, STRENGTH = 151, 127
"""How many numbers H and S have."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Numbers ("H14", "H45-H47", "H51 H52"), what stands there with its source, and the reason."""

    ids: str
    what: str
    kind: Kind
    reason: str

    def numbers(self) -> set[str]:
        """Each number of `ids`."""
        found = set()
        for part in self.ids.split():
            match = re.fullmatch(r"([HS])(\d+)(?:-\1(\d+))?", part)
            assert match, part
            first, last = int(match[2]), int(match[3] or match[2])
            found |= {f"{match[1]}{number:02d}" for number in range(first, last + 1)}
        return found


def without_account(checks: tuple[Check, ...]) -> list[str]:
    """Numbers that neither a row nor this list has."""
    wanted = {f"H{n:02d}" for n in range(1, HYDRAULICS + 1)}
    wanted |= {f"S{n:02d}" for n in range(1, STRENGTH + 1)}
    for check in checks:
        if match := re.match(r"[HS]\d+", check.id):
            wanted.discard(match[0])
    for left in LEFT_OUT:
        wanted -= left.numbers()
    return sorted(wanted)


_E = "Esposito, "

LEFT_OUT: tuple[LeftOut, ...] = (
    # --- cylinder, pump, engine of the hydraulics collection
    LeftOut("H14", _E + "Ex 6-4: force that lifts and quickens 6000 lb", "not in the model",
            "nothing is lifted; masses of the simulation are held by its energy balance"),
    LeftOut("H15", _E + "Ex 6-5: lever mechanisms", "not in the model", "no levers"),
    LeftOut("H16", _E + "Ex 6-6: peak pressure of an end cushion", "not in the model",
            "no cushions"),
    LeftOut("H37", _E + "Ex 5-10: yearly cost of an electric motor", "not in the model",
            "no electric drive"),
    LeftOut("H38", "trade article: a petrol engine needs 2.5 times the rating of an electric motor",
            "other formula",
            "engines come with a torque curve (31 lb ft at its peak is an input); 85 % is a row"),
    LeftOut("H39", "an unloaded pump takes about 5 % of full power", "other formula",
            "worked out from the lines of the machine"),
    LeftOut("H41", "usual shift pressures, displacement ratios and relief settings", "recalled",
            "inputs besides"),
    LeftOut("H42", "torque of the two stages", "in a test",
            "the formula of the rows H43; both peaks are limits, driven in tests of the limits"),
    LeftOut("H45-H47", "equations of Wilson, Schlosser, McCandlish and Dorey", "recalled",
            "Wilson's is used; the rows H50 and H31 and laws of the pump in tests hold it"),
    LeftOut("H48", "one-constant slip of a maker of gear pumps", "in a test",
            "the same as Wilson's slip: doubles with pressure, halves with viscosity and speed"),
    LeftOut("H49", "classic coefficients of gear, vane and piston pumps", "recalled",
            "the model forms its own from the rated point of the price list"),
    LeftOut("H50", "mechanical 0.956, 0.944, 0.909 and overall 0.832, 0.855 as first worked out",
            "contradictory",
            "they come from (1 - Cf)/(1 + Cv mu w/p), the equation beside them is 1/(1 + Cv mu w/p"
            " + Cf); the rows hold the latter by hand: 0.957, 0.945, 0.910, 0.833, 0.856"),
    LeftOut("H51", "slip over pressure, viscosity and speed in proportion", "in a test",
            "tests of the pump, over random pumps"),
    LeftOut("H52", "usual efficiencies of gear pumps", "input", "of the price list"),
    # --- lines
    LeftOut("H61", _E + "Ex 3-10: energy equation with a rise of 20 ft", "not in the model",
            "no heights but that of the oil over the pump"),
    LeftOut("H65", "Crane 7.7: tank that drains through a ball valve with a narrowed seat",
            "no number",
            "no final flow printed and the valve's loss not stated; the row holds Reynolds alone"),
    LeftOut("H71", "Fox and McDonald Ex 8.1: leakage past a piston", "not in the model",
            "no clearances; the answer is recalled"),
    LeftOut("H75", "drop that never falls with the flow from laminar to turbulent", "in a test",
            "tests of the lines, over flow and diameter"),
    LeftOut("H76", "Crane's rounded table of fully turbulent factors", "recalled",
            "the unrounded ones are rows"),
    LeftOut("H77-H80", _E + "table of K: elbow 0.75 to 0.9, 45 deg 0.42, tee 1.8, ball check 4.0",
            "contradictory", "two examples differ, the rest is recalled; Crane's are rows"),
    LeftOut("H81", "projecting entrance 0.78, rounded 0.04", "recalled", "inputs of a study"),
    LeftOut("H82", "Hooper's constants of all other fittings", "in a test",
            "every fitting of the reference library, four Reynolds numbers and three bores"),
    LeftOut("H83", "Darby's three-constant method", "other formula",
            "Hooper's is used; at 1 in they differ by 1 % laminar and up to 14 % turbulent"),
    LeftOut("H84", "a fitting in cold oil costs a dozen times its constant K", "in a test",
            "rows H82 at Reynolds 100 against H77"),
    LeftOut("H85", "bands of velocity of six other sources", "contradictory",
            "return 5 to 10, 10 to 15 ft/s or 2 to 4 m/s; the rows say which one is taken"),
    LeftOut("H86-H88", "least inlet pressure of pumps", "input",
            "of the price list; the bound of a cold start is recalled and says so"),
    # --- oil
    LeftOut("H93", "viscosity at 40 and 100 degC", "input", "the two points of the line"),
    LeftOut("H98", _E + "Ex 2-14: viscosity index in Saybolt seconds", "other formula",
            "the model takes mm2/s at 40 and 100 degC"),
    LeftOut("H99", _E + "Ex 2-12: Saybolt seconds to cSt", "not in the model",
            "no unit of the study files"),
    LeftOut("H100", "density of mineral oil 850 to 900 kg/m3", "input", "of the study"),
    LeftOut("H102", "specific heat 1.67 to 2.06 kJ/(kg K)", "input", "of the study"),
    LeftOut("H103", "thermal conductivity of oil", "not in the model", "no conduction in the oil"),
    LeftOut("H104", "bulk modulus 1.5 to 2.0 GPa, fluids of MIL-H-5606", "input", "of the study"),
    LeftOut("H107-H111", "viscosity windows of pumps", "input",
            "of the price list; four guides differ, the fifth is recalled"),
    # --- heat and tank
    LeftOut("H116", "other coefficients of a tank's wall: 5.8 to 11.6, 6.8 to 9.0, 11.2 W/(m2 K)",
            "input", "of the price list; no film of air is worked out, and the sources differ"),
    LeftOut("H119", "63 % of the rise after one time constant", "in a test",
            "against an integrated heat balance, over masses and powers"),
    LeftOut("H120", "reservoirs of 2 to 12 times the pump's flow in a minute", "contradictory",
            "factors for other plants; the minute of mobile machines is taken"),
    LeftOut("H121", "200 degF at most, 38 to 60 degC normal, ageing doubles each 10 K",
            "not in the model", "no ageing; 180 degF is the bound"),
    # --- sizes and ratings
    LeftOut("H122-H124", "ISO 3320 bores and rods, ISO 7181 ratios", "recalled",
            "inputs of the price list; ratios of the sizes are rows H125"),
    LeftOut("H127", "inch series of bores and rods", "recalled", "inputs; ratios are rows H128"),
    LeftOut("H129 H130", "ISO 3322 pressures, ISO 4393 strokes", "recalled", "inputs"),
    LeftOut("H131", "dash sizes of hoses", "not in the model", "sizes are lengths"),
    LeftOut("H132-H136", "ratings of hoses of EN 853 and SAE J517, burst four times that", "input",
            "of the price list; most of them recalled"),
    LeftOut("H137", "inner diameters of steel pipe", "input", "used by the rows H74 and H76"),
    LeftOut("H138", _E + "Ex 10-3: working pressure of a tube by its inner diameter",
            "other formula", "no tubes; barrels are thick-walled (rows S26 to S37)"),
    LeftOut("H139", "safety factors of tubes by pressure", "not in the model", "no tubes"),
    # --- valves, filters, air
    LeftOut("H140", "drops at which flows of servo and proportional valves are rated", "input",
            "nominal flow and drop stand in the price list"),
    LeftOut("H142", "nominal drop of hand valves", "recalled", "input"),
    LeftOut("H143", _E + "Ex 8-1: direct relief valve with poppet and spring", "not in the model",
            "no springs; the rise over the setting is a constant of the study"),
    LeftOut("H144", "bypass pressures of filters", "contradictory",
            "input; the source gives 25 psi as 1.77 bar, which is 1.72"),
    LeftOut("H146", "filter drop: viscous part and square part", "in a test",
            "tests of the valves; the split itself is recalled"),
    LeftOut("H147", "usual clean drops", "recalled", "inputs"),
    LeftOut("H148", "a return filter sees the cap-end flow", "in a test",
            "rows H17; limits of filter and valve at that flow"),
    LeftOut("H149 H150", "dissolved air, time of its release", "recalled", "not in the model"),
    # --- columns and barrels
    LeftOut("S01", "theoretical 2 and 4, recommended 1.2", "in a test",
            "critical loads against finite elements; the mountings take the conservative column"),
    LeftOut("S03", "Shigley eq. 4-51 and 4-53: diameter for a load", "other formula",
            "the model gives the load of a diameter; rows S05 to S15 put the diameters in"),
    LeftOut("S04", "mountings of cylinders to end conditions", "no number",
            "a choice of this project; its factors are rows S01"),
    LeftOut("S16-S18", "ISO/TS 13725, Codina and Salazar, usual shortcut of the trade", "no number",
            "numbers of standard and papers were not to be had"),
    LeftOut("S22", "factors 10.55, 9.01 and 6.82 of a very large cylinder", "contradictory",
            "effective length not stated: the printed slenderness belongs to a shorter one"),
    LeftOut("S23", "factor on buckling 3 to 5, usually 3.5", "input",
            "the bound is 3.5, in the band; the figure itself is recalled"),
    LeftOut("S24", "stop tube for long strokes", "not in the model", "no stop tubes"),
    LeftOut("S25", "strength of rod steels", "input", "of the price list"),
    LeftOut("S27", "Bhandari Ex 22.5: wall by Birnie, open end", "other formula",
            "Lame and von Mises with closed ends"),
    LeftOut("S28", "Bhandari Ex 22.1: thin vessel by its inner diameter", "other formula",
            "no thin-wall rule with the inner diameter"),
    LeftOut("S30", "stresses at the outer surface: hoop 11.875, radial -5 MPa", "not in the model",
            "the bore governs"),
    LeftOut("S31", "the same cylinder pressed from outside: 166.67 MPa", "contradictory",
            "the source looks at the wrong surface; no pressure outside here"),
    LeftOut("S32", "form of Lame's equation", "in a test", "the thick ring's equations solved"),
    LeftOut("S34", "hoop stress by inner and outer diameter, 24 000 and 27 000 psi",
            "other formula", "Lame's and the mean diameter's are rows"),
    LeftOut("S38", "strength of drawn tube", "input", "of the price list"),
    LeftOut("S39", "four to one on burst", "input",
            "ratings of the price list; of cylinders it is recalled"),
    # --- engine
    LeftOut("S41", "Ganesan Ex 17.3: losses 19.4 % of brake or 16.2 % of indicated power",
            "not in the model", "no indicated power"),
    LeftOut("S44", "other reference states of rated power", "no number",
            "the two that can be compared are a row"),
    LeftOut("S47", "3.5 % of power a 1000 ft", "recalled",
            "other formula: 0.770 at 2000 m against 0.798 here"),
    LeftOut("S48", "3 % a 1000 ft counted from 500 ft: 198 hp of 225 at 4500 ft", "other formula",
            "the same rule counted from sea level is a row"),
    LeftOut("S49", "Handbook of Energy Engineering Calculations: 0.74 with a supercharger",
            "not in the model", "engines have no charger"),
    LeftOut("S49", "Handbook of Energy Engineering Calculations: 0.68 of 800 hp, 544 hp, at"
            " 10 000 ft, 516 hp with 110 degF", "contradictory",
            "0.704, 563 hp and 535 hp here (3.5 % more): the handbook derates nearly by the"
            " pressure (0.688), Gagg and Farrar by the density of air that is cold up there. Heat"
            " counted from that air would give 514 hp; the trade's rule counts it from 60 degF"),
    LeftOut("S50", "deratings added instead of multiplied, 6.36 hp; 85 % of it", "other formula",
            "factors are multiplied"),
    LeftOut("S51", "ISO 3046-1 adjustment of power", "recalled", "other formula"),
    LeftOut("S54", "speed of most power 1.5 times that of most torque", "input",
            "of the price list; found on cars"),
    LeftOut("S55", "fuel consumption of good and small engines", "input", "of the price list"),
    # --- wood
    LeftOut("S58-S63", "strength across the grain, cleavage, hardness of green wood by kind",
            "input", "a study states forces; the kinds named in the demonstrations bracket them in"
            " a test"),
    LeftOut("S64 S65", "strength of dry wood, mass of a cord, ease of splitting", "input",
            "a study states forces; ease does not follow strength"),
    LeftOut("S67-S69", "friction of steel on wood, angles of wedges, shape of the force",
            "input", "friction and angle are no input of a machine; the shape is cited, not sized"),
    LeftOut("S70", "bracket of the force of a round", "in a test",
            "forces of a demonstration lie in it, kind by kind"),
    LeftOut("S71", "shear strength times area", "other formula", "a warning of what not to do"),
    LeftOut("S72", "cone splitters, household splitters, reviews", "no number", "leads only"),
    LeftOut("S74-S78", "stacked, thrown and loose volumes, pieces in a cord", "not in the model",
            "solid wood only"),
    LeftOut("S79", "maul, axe and wedges: 0.35, 0.26, 0.25 cords an hour", "not in the model",
            "no hand tools"),
    LeftOut("S80-S83", "time studies of processors", "not in the model",
            "other machines; the band of the utilisation is a row"),
    # --- safety, money, search
    LeftOut("S85 S86", "EN 609-1 and rules of other places", "no number",
            "scope and contents seen, no limit values"),
    LeftOut("S89-S93", "injuries, ISO 4413, injection, carbon monoxide, noise",
            "not in the model", "cautions in words"),
    LeftOut("S94", "what a tool must say", "no number", "texts are held by tests"),
    LeftOut("S98", "indices of commonality", "other formula",
            "shared parts count by the money of their stock"),
    LeftOut("S100", "break-even of a small factory", "contradictory",
            "not in the model, and the page's sum is wrong: 69 000, printed 69 500"),
    LeftOut("S101-S104", "learning curves", "not in the model",
            "no hours of a series; two of the sources are wrong"),
    LeftOut("S105-S116", "hypervolume of fronts of test functions", "not in the model",
            "fronts are listed whole and no volume is measured; they are held against brute force"),
    LeftOut("S117-S122", "optima of welded beam, truss, spring, vessel, cantilever",
            "not in the model", "only machines of a price list are searched"),
    LeftOut("S123-S126", "shares of variance of Ishigami's and Sobol's functions", "in a test",
            "first and total shares of all four; mean and variance are no results"),
    LeftOut("S127", "elementary effects of Morris", "other formula", "Sobol's shares are used"),
)  # fmt: skip
