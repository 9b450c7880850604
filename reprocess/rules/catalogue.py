"""The rule catalogue: every id that a refusal, hold or reminder can name, what it asks, what its default rests on.

Where a rule is decided is found by reading the program (`check --rules`); `by` names what carries it where no line of
code names the id: a key of a workflow file, or a part of the program. `left` says why a rule is not decided here.
Sources: *common practice* means common practice, no source; *own choice* means a default of ours, which a site sets.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

PRACTICE = "common practice, no source"
CHOICE = "own choice, set by the site"
LABEL = "the label and the workflow file"
FILE = "the workflow file"


@dataclass(frozen=True, slots=True)
class Rule:
    """Is one rule of the catalogue.

    Attributes:
        says: what it asks, in one sentence.
        source: what its default rests on.
        by: what carries it where the code does not name the id.
        left: why it is not decided here; empty where it is.
    """

    id: str
    says: str
    source: str
    by: str = ""
    left: str = ""


def _rules(*rows: tuple[str, ...]) -> tuple[Rule, ...]:
    return tuple(Rule(*row) for row in rows)


TIME: Final = _rules(
    ("T01", "Wet contact lasts at least as long as label, item and site ask; never overridden.", LABEL),
    ("T02", "Contact begins only after cleaning and its check.", FILE),
    ("T03", "The film is wetted again before it dries, or the contact starts anew.", LABEL),
    (
        "T04",
        "A contact that was interrupted is void; parts are never added up.",
        "the label asks for continuous contact",
    ),
    ("T05", "More than two restarts in one cycle are told to a supervisor.", CHOICE),
    ("T06", "Contact past the longest time holds the item until its material was looked at.", FILE),
    ("T07", "The solution's temperature is in the label's range at start and end.", LABEL),
    ("T08", "Rinsing begins soon after contact, or the item is cleaned again.", CHOICE),
    ("T09", "Drying lasts its least time and the item is found dry.", FILE),
    ("T10", "Aeration lasts its least time or the residue is in limits.", LABEL),
    ("T11", "Late cleaning after use takes the extended path.", CHOICE),
    ("T12", "Cycles, age, opening and expiry end a part's life.", FILE),
    ("T13", "Readiness ends when its shelf life is over.", CHOICE),
    ("T14", "Nothing rests too long after its last step.", CHOICE),
    ("T15", "A step faster than a hand can do it needs a reason.", CHOICE),
    ("T16", "Many cleanings begun within a minute by one person are told.", CHOICE),
    ("T17", "The end of a contact is confirmed by a scan; time alone advances nothing.", PRACTICE),
    (
        "T18",
        "A dryer's door opened prolongs drying.",
        CHOICE,
        "",
        "door sensors send nothing yet; it is off by default",
    ),
)
MEASUREMENT: Final = _rules(
    ("M01", "Airflow is checked after assembly and at each issue.", "42 CFR 84, manufacturer's instructions"),
    ("M02", "The measuring instrument is verified and not faulty.", CHOICE),
    ("M03", "Airflow in litres a minute reaches the least value.", "42 CFR 84.172, 84.179"),
    ("M04", "The low-battery and low-flow alarm is heard.", PRACTICE, "a check of the functional test in the file"),
    ("M05", "A test strip reads at least the minimum concentration, and is itself valid.", LABEL),
    ("M06", "Sampled cleaning checks stay in limits.", CHOICE),
    ("M07", "Gaskets and plugs are present in the number the configuration asks.", "the configuration file"),
    ("M08", "A reading outside its plausible range is asked again.", FILE),
    ("M09", "What measures is identified; a test that recurs is not overdue.", FILE),
    ("M10", "A battery runs for its share of the rated time.", CHOICE, "a reading of the capacity test in the file"),
    ("M11", "A leak test passes before immersion.", FILE, "a step before immersion in the file"),
    ("M12", "Inspection is done under enough light.", PRACTICE, "a check of the inspection in the file"),
)
SEQUENCE: Final = _rules(
    ("P01", "Steps follow the workflow's order.", FILE),
    ("P02", "Whatever contaminates sends the item back to used.", PRACTICE),
    ("P03", "Soil found sends the item back to cleaning and all after it.", PRACTICE, "`back_to` of a failing check"),
    ("P04", "What comes back is compared with what was issued.", PRACTICE),
    ("P05", "An unknown tag advances nothing.", PRACTICE),
    ("P06", "An item is commissioned before it is worked on.", PRACTICE),
    ("P07", "A return that was never issued is held for its custody gap.", PRACTICE),
    ("P08", "What is out is not issued again.", PRACTICE),
    ("P09", "Dirty and clean sides do not meet.", PRACTICE),
    ("P10", "Who goes from the dirty to the clean side confirms clean hands.", PRACTICE),
    ("P11", "Contaminated items travel in a closed container.", "29 CFR 1910.1030(d)(2)(xiv)"),
    ("P12", "A method that a part does not bear is refused, or holds it once told.", FILE),
    ("P13", "Filters, battery and tube are off before wet work.", FILE, "the order of steps in the blower's file"),
    ("P14", "Only agents that the part's file allows touch it.", FILE),
    ("P15", "Chemicals that react never follow each other without a rinse.", PRACTICE),
    ("P16", "A graver contamination takes the stricter path.", FILE),
)
PEOPLE: Final = _rules(
    ("A01", "A badge is known, active and of this site.", PRACTICE),
    ("A02", "Whoever does a step holds its competency today.", "multisociety and public health guidance, 12 months"),
    ("A03", "A trainee acts only beside a preceptor.", PRACTICE),
    ("A04", "Agency staff are found competent first.", PRACTICE),
    ("A05", "A competency that lapses lets the open step finish, not the next.", CHOICE),
    ("A06", "A competency found invalid puts its steps before a supervisor.", PRACTICE),
    ("A07", "A station that nobody uses signs its person out.", CHOICE),
    ("A08", "Overrides and offices go by role; nobody overrides their own refusal twice.", CHOICE),
    ("A09", "A wearer is trained, cleared and, where it fits tightly, fit-tested.", "29 CFR 1910.134 (e), (f), (k)"),
    ("S01", "Whoever cleaned does not inspect.", PRACTICE),
    ("S02", "Whoever did everything alone does not release.", PRACTICE),
    ("S03", "Condemning and lifting after a recall take two people.", PRACTICE),
    ("S04", "Whoever placed a hold does not lift it alone.", PRACTICE),
    ("S05", "Parts taken from another kit are told on both.", PRACTICE),
    ("S06", "A test result is corrected with a second person; the first stays.", "21 CFR 11.10(e)"),
    ("S07", "Whoever writes a file does not approve it.", PRACTICE),
    ("S08", "Two people are two persons, within five minutes.", CHOICE),
)
SOLUTIONS: Final = _rules(
    ("L01", "Product and lot are in date and not recalled.", LABEL),
    ("L02", "A bath is recorded whole before it is used.", LABEL),
    ("L03", "A bath is tested as often as its label asks.", LABEL),
    ("L04", "Topping up never lengthens a bath's life.", LABEL),
    ("L05", "A bath that expires under a running contact lets it finish, and takes no other.", CHOICE),
    ("L06", "A bath dumped or spilled voids what is in it.", PRACTICE),
    ("L07", "A failed test holds all that it touched since its last pass.", PRACTICE),
    ("L08", "A test with an expired strip is void.", LABEL),
    ("L09", "A container of wipes ends with its open life, or once found dry.", LABEL),
    ("L10", "Detergent is in date.", LABEL),
    ("L11", "Rinse water is of the class that the step asks.", FILE),
    ("L12", "A recalled lot of filters reaches every kit that had one.", PRACTICE),
    ("L13", "What is used up is counted down to its reorder point.", CHOICE),
    (
        "L14",
        "A vapour alarm clears the room and stops new soaks.",
        "ACGIH ceiling 0.05 ppm glutaraldehyde, from the trade",
    ),
)
GATES: Final = _rules(
    ("G01", "Every mandated step of this cycle is satisfied, in order.", FILE),
    ("G02", "Nothing holds the item, its parts, load, bath or lot.", PRACTICE),
    ("G03", "The item scanned is the item labelled.", PRACTICE, "every request names the item by its tag"),
    ("G04", "The item is dry.", FILE, "a mandated drying step and its check in the file"),
    ("G05", "Function passed with this very assembly.", FILE, "steps after assembly in the file, which fall with it"),
    ("G06", "The battery is charged to its release level.", CHOICE, "a reading of the charge step in the file"),
    ("G07", "Every part is within its life.", CHOICE),
    ("G08", "The assembly is an approved configuration.", "the approval", "the configuration file, judged by C01"),
    ("G09", "Whoever releases may, and did not do all.", PRACTICE, "judged by A02 and S02 at release"),
    ("G10", "Paper evidence is entered and countersigned, or does not count.", CHOICE),
    ("G11", "The load has passed.", PRACTICE),
    ("G12", "A workflow withdrawn for safety applies no longer.", PRACTICE),
)
HOLDS: Final = _rules(
    ("H01", "A failed inspection holds the item, in its quarantine place.", PRACTICE),
    ("H02", "Holds add up, each with type, owner and what lifts it.", PRACTICE),
    ("H03", "A recall shows whom it reaches before it is done.", PRACTICE),
    ("H04", "A held item stops wherever it is scanned.", PRACTICE),
    ("H05", "Who wears a held unit finishes, leaves and brings it back.", PRACTICE),
    (
        "H06",
        "What was released wrongly is held, recalled and its wearers listed.",
        "public health guidance on breaches",
    ),
    ("H07", "An exposure case lists uses until the next valid cycle.", "public health guidance on breaches"),
    ("H08", "A faulty instrument makes its results suspect.", PRACTICE),
    ("H09", "A recall closes once every item is located.", PRACTICE),
    ("H10", "A hold is lifted on its conditions, by its roles.", PRACTICE),
    ("H11", "A hold older than a week is told again each week.", CHOICE),
    ("H12", "A maker's notice stays with the hold.", PRACTICE, "the notice that a hold keeps: `record.words.holds`"),
)
ASSEMBLIES: Final = _rules(
    ("C01", "Only parts of an approved configuration are put together.", "42 CFR 84 approval label"),
    ("C02", "Every slot is filled once, by a ready part.", "the configuration file"),
    ("C03", "Filters are of one kind, as many as the configuration asks.", "the configuration file"),
    ("C04", "Each filter has one good gasket that fits it.", "the configuration file", "counted and looked at: M07"),
    ("C05", "Ports are filters and plugs, always.", "the configuration file"),
    ("C06", "Filters of a pair were opened within a month of each other.", CHOICE),
    ("C07", "A size or a wearer's own part goes to its wearer.", PRACTICE),
    ("C08", "Battery and charger bay are of models that go together.", "the configuration file"),
    ("C09", "A part is in one assembly at a time.", PRACTICE),
    ("C10", "A fabric belt is laundered, never wiped to ready.", FILE, "the belt's own file, which has no wipe"),
    ("C11", "What is dedicated to a place stays there.", CHOICE),
    ("C12", "What was sent from another site is received before it is used.", PRACTICE),
)
CUSTODY: Final = _rules(
    ("U01", "Issue names wearer, place, purpose and parts.", PRACTICE),
    ("U02", "A kit is ready, in date and charged for the time expected.", CHOICE),
    ("U03", "Whoever takes it looks it over; any no holds it.", PRACTICE),
    ("U04", "A second unit for the same wearer is told.", CHOICE),
    (
        "U05",
        "Airflow and battery are checked after four hours, then every two.",
        "NIOSH 2013-146",
        "reminded under R11: `timetable.custody`",
    ),
    ("U06", "No unit goes from wearer to wearer without a cycle.", "29 CFR 1910.134(h)(1)"),
    ("U07", "A return is taken anywhere and ends custody.", PRACTICE),
    ("U08", "What was seen on it chooses the path.", PRACTICE),
    ("U09", "A one-wearer part is never issued again.", FILE),
    ("U10", "What does not come back is asked for, then missing.", CHOICE),
    ("U11", "Parts that stay out stay in custody.", PRACTICE),
    ("U12", "A battery changed in use names both.", PRACTICE),
    ("U13", "Overdue units of a wearer are told at the next issue.", CHOICE),
    ("U14", "A loan outside has a due date and a supervisor.", PRACTICE),
    (
        "U15",
        "Training and fit tests count apart, and need a cycle after.",
        "29 CFR 1910.134(h)(1)(iv)",
        "the purpose that an issue names; every return begins a cycle",
    ),
)
STORES: Final = _rules(
    ("Q01", "Only what is ready enters a clean store.", PRACTICE),
    ("Q02", "A store out of its range asks for a new look.", CHOICE),
    ("Q03", "A cabinet unit is inspected every month on its anchored day.", "29 CFR 1910.134(h)(3)(i)(B)"),
    ("Q04", "An inspection names date, person, finding, action and unit.", "29 CFR 1910.134(h)(3)(iv)"),
    ("Q05", "A missing unit or broken seal is held and restocked.", PRACTICE),
    ("Q06", "A thorough examination keeps its profile's interval.", "COSHH 2002 reg. 9 and its code of practice"),
    ("Q07", "A cabinet holds its par.", CHOICE),
    ("Q08", "What is due first goes first.", PRACTICE),
)
BATTERIES: Final = _rules(
    ("B01", "A damaged battery is held and never charged.", "OSHA SHIB 06-20-2019"),
    ("B02", "A battery is charged clean, dry, in its bay, at its temperature.", "OSHA SHIB 06-20-2019"),
    ("B03", "A battery is charged enough when it is issued.", CHOICE),
    ("B04", "A battery idle for a month is topped up.", CHOICE),
    ("B05", "A capacity test is repeated by time and by charges.", CHOICE),
    ("B06", "An early alarm asks for a capacity test.", CHOICE),
    ("B07", "A low-battery alarm says how long is left.", PRACTICE),
)
LOADS: Final = _rules(
    ("W01", "A load names machine, programme and operator; the machine passed today.", PRACTICE),
    ("W02", "Every item in it bears the programme.", FILE),
    ("W03", "A wrong scan is taken out before the start, after it by two people.", PRACTICE),
    ("W04", "As many come out as went in.", PRACTICE),
    ("W05", "An item is in one open load.", PRACTICE),
    ("W06", "A failed cycle reaches all its items, released ones too.", PRACTICE),
    ("W07", "No record of the cycle is no pass.", PRACTICE),
    ("W08", "A power cut voids the cycle.", PRACTICE),
)
INTEGRITY: Final = _rules(
    ("D01", "Entries only grow; a correction is an entry of its own.", "21 CFR 11.10(e)"),
    ("D02", "Each entry has occurrence, record and local offset.", "GS1 EPCIS 2.0", "every entry's envelope"),
    ("D03", "The same gesture is one entry.", PRACTICE, "the request's key in `station`, and a double scan"),
    ("D04", "Clocks that disagree are told; running time alone counts.", CHOICE, "`record.moment`, clock anomalies"),
    ("D05", "A late entry says so and from which form.", CHOICE),
    ("D06", "A form is entered by anybody and countersigned.", PRACTICE),
    ("D07", "A late entry that contradicts the record holds the item; both stay.", PRACTICE),
    ("D08", "The record is chained, sealed and verified.", "RFC 6962 for the leaf", "`ledger.verify`"),
    ("D09", "An offline station queues facts, and releases nothing.", PRACTICE),
    ("D10", "Who acts over HTTP is verified; on a command line it is claimed, and says so.", "21 CFR 11.10(d), (g)"),
    ("D11", "A cycle keeps the version that it began under.", PRACTICE, "the digest in every cycle's first entry"),
    (
        "D12",
        "Records are kept for their period; nothing is deleted by hand.",
        "COSHH 5 years, 29 CFR 1910.1020 30 years",
    ),
    ("D13", "A wearer is a pseudonym wherever the name is not needed.", "45 CFR 164.502(b), from memory"),
    ("D14", "Overrides, refusals, corrections and late entries are reviewed.", CHOICE),
)
REMINDERS: Final = _rules(
    ("R01", "Contact clocks: wet again, nearly done, done, too long.", LABEL, "asked under T03, T17 and T06"),
    ("R02", "Drying done, or forgotten.", FILE),
    ("R03", "Solution and strips: expiry and the next test.", LABEL),
    ("R04", "The monthly inspection, before and after its day.", "29 CFR 1910.134(h)(3)(i)(B)"),
    ("R05", "Battery top-up and capacity test.", CHOICE),
    ("R06", "What is not back.", CHOICE),
    ("R07", "Competencies before they lapse.", CHOICE),
    ("R08", "Parts at nine tenths of their life.", CHOICE),
    ("R09", "Holds that grow old.", CHOICE),
    ("R10", "A place below its par; a stock-out that is likely comes with the audit.", CHOICE),
    ("R11", "Airflow and battery while worn.", "NIOSH 2013-146"),
    ("R12", "The yearly evaluation and the review of files.", "29 CFR 1910.134(l), from memory"),
)

FAMILIES: Final[dict[str, tuple[Rule, ...]]] = {
    "Time and dwell": TIME,
    "Measurement and test": MEASUREMENT,
    "Preconditions and sequence": SEQUENCE,
    "People": PEOPLE,
    "Solutions, lots and consumables": SOLUTIONS,
    "Release gates": GATES,
    "Holds, recall and look-back": HOLDS,
    "Assemblies": ASSEMBLIES,
    "Issue and return": CUSTODY,
    "Stores and cabinets": STORES,
    "Batteries": BATTERIES,
    "Loads": LOADS,
    "Integrity and downtime": INTEGRITY,
    "Reminders": REMINDERS,
}
"""The catalogue by family, in the order of the job."""
