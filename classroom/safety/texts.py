"""What a school starts with: safety topics, checklists and the wording that defers to others.

Pure data, no database. A school gets its own copy of these rows and may change every word; the
texts here are a beginning, and the school's own rules come before them. Written for students of
about 12 and up. The renewal times are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

WORDING_VERSION: Final = "2026-12"
"""Goes up whenever a text below changes; a record keeps the version that was signed."""

DEFERRAL: Final = (
    "Local code, your school's policy, the equipment manual and the product's safety data sheet "
    "come first. Where they differ from this page, follow them."
)
RECORD_NOTE: Final = (
    "This list records what was looked at, by whom and when. It is not legal or medical advice "
    "and gives nobody leave to work without a teacher in the room."
)
SIGNATURE_NOTE: Final = (
    "A signature says that you have read and understood. It takes away none of your rights."
)
HURT_NOTE: Final = (
    "If anybody is hurt: stop, tell the teacher at once, and follow the school's first-aid plan."
)


class Answer(StrEnum):
    """The four answers of a checklist line.

    The scheme of DHHS (NIOSH) 2004-101, Safety Checklist Program for Schools (verified): yes, no,
    does not apply, not known; with room for a remark and for what will be put right.
    """

    YES = "Y"
    NO = "N"
    NOT_APPLICABLE = "N/A"
    UNKNOWN = "??"

    @property
    def words(self) -> str:
        """The answer spelt out."""
        return {
            Answer.YES: "yes",
            Answer.NO: "no",
            Answer.NOT_APPLICABLE: "does not apply here",
            Answer.UNKNOWN: "don't know",
        }[self]

    @property
    def needs_action(self) -> bool:
        """Whether somebody has to put something right or find it out."""
        return self in (Answer.NO, Answer.UNKNOWN)


@dataclass(frozen=True, slots=True)
class ChecklistLine:
    """One line to be answered; `code` never changes, the text may."""

    code: str
    text: str
    heading: str = ""


@dataclass(frozen=True, slots=True)
class SafetyTopic:
    """A tool or substance that needs a bench permit.

    `lessons` are taught, `practical_check` is what the teacher watches the student do before the
    permit is given. `renew_after_days` is a proposal for the permit's expiry.
    """

    code: str
    title: str
    why: str
    lessons: tuple[str, ...]
    practical_check: tuple[ChecklistLine, ...]
    renew_after_days: int


def _check(code: str, *texts: str) -> tuple[ChecklistLine, ...]:
    return tuple(
        ChecklistLine(f"{code}-{number}", text) for number, text in enumerate(texts, start=1)
    )


_TERM_DAYS: Final = 126  # an 18-week term
_YEAR_DAYS: Final = 365

TOPICS: Final[tuple[SafetyTopic, ...]] = (
    SafetyTopic(
        code="saw-frame",
        title="Saw frame",
        why="A tight blade can snap and fly, and it cuts a finger as easily as metal.",
        lessons=(
            "Wear eye protection marked Z87 or what your school names, before the blade is strung.",
            "String the blade with its teeth toward you and pointing down to the handle.",
            "Tighten it until it rings when plucked.",
            "Hold the metal flat on the bench pin, with no finger in the blade's way.",
            "Saw upright with long, light strokes; turn the metal, not the frame.",
            "Ease off near the end of a cut, where the blade breaks through.",
            "Put every broken or worn blade in the blade box, never in the bin or on the floor.",
        ),
        practical_check=_check(
            "saw-frame",
            "Puts eye protection on and ties hair and loose clothing back before starting",
            "Strings a blade the right way round and tight enough to ring",
            "Keeps the fingers of the holding hand out of the blade's line",
            "Saws along a line and round a corner without forcing the blade",
            "Takes a broken blade out and puts it in the blade box",
        ),
        renew_after_days=_TERM_DAYS,
    ),
    SafetyTopic(
        code="drill-press",
        title="Drill press",
        why="Thin sheet can grab the drill and spin like a blade; hair and sleeves wind in fast.",
        lessons=(
            "Wear eye protection; tie hair back; no gloves, loose sleeves, rings or lanyards.",
            "Clamp the sheet over a block of wood. Never hold it by hand.",
            "Dent the mark with a centre punch first, so that the drill starts where you want it.",
            "Take the chuck key out before you switch on.",
            "Press lightly and lift often; ease off as the drill comes through.",
            "Switch off and wait until it stands still before you touch metal, drill or chips.",
            "Brush chips away; never use your hand or your breath.",
        ),
        practical_check=_check(
            "drill-press",
            "Ties back hair and clothing, takes off rings, wears eye protection and no gloves",
            "Clamps a sheet over wood so that it cannot turn",
            "Fits a drill, tightens the chuck and takes the key out",
            "Drills a marked hole with light pressure and eases off at the end",
            "Switches off, waits for it to stop, then brushes the chips away",
        ),
        renew_after_days=_TERM_DAYS,
    ),
    SafetyTopic(
        code="hand-shears",
        title="Hand and bench shears",
        why="Shears pinch and cut without effort, and the metal they leave has sharp edges.",
        lessons=(
            "Know where both hands are before you close the blades.",
            "Only one person works at the bench shears; nobody stands on the lever's side.",
            "Support the sheet, so that the cut strip does not swing.",
            "Lock the bench shears' lever when you are done.",
            "Treat every fresh edge as sharp, and file its corners before you pass it on.",
        ),
        practical_check=_check(
            "hand-shears",
            "Looks where both hands are and that nobody else is near",
            "Cuts a strip along a line with the sheet supported",
            "Locks or puts the shears away and takes the corners off the strip",
        ),
        renew_after_days=_TERM_DAYS,
    ),
    SafetyTopic(
        code="foot-guillotine",
        title="Foot guillotine",
        why="Its blade takes fingers as easily as sheet, and the foot works it while you "
        "look away.",
        lessons=(
            "Use it only where your teacher and the school's rules let you, with the "
            "guard in place.",
            "Only one person works at it. Nobody else stands beside the blade or near the pedal.",
            "Lay the sheet against the fence and let the holding bar press it; both "
            "hands stay behind "
            "the guard.",
            "Look where both hands are, then press the pedal; take the foot off before "
            "you reach in.",
            "Never cut what is narrower than the holding bar can hold, wire, rod or "
            "hardened steel.",
            "Treat every fresh edge as sharp, and file the burr off before you pass it on.",
        ),
        practical_check=_check(
            "foot-guillotine",
            "Looks that the guard is in place and nobody else is near",
            "Lays the sheet against the fence with both hands behind the guard",
            "Takes the foot off the pedal before reaching for the parts",
            "Files the burr off and takes the corners off",
        ),
        renew_after_days=_TERM_DAYS,
    ),
    SafetyTopic(
        code="abrasives-dust",
        title="Abrasive paper and metal dust",
        why="Metal dust harms lungs and eyes, and some of it can burn.",
        lessons=(
            "Rub on a flat block, slowly enough that no dust flies.",
            "Wear eye protection.",
            "Wipe dust up with a damp cloth; never blow it, and never use compressed air.",
            "Keep aluminium dust apart from iron and steel dust, and away from flames.",
            "Wash your hands before you eat, drink or touch your face.",
        ),
        practical_check=_check(
            "abrasives-dust",
            "Rubs a marked area on a block without raising dust",
            "Wipes the bench with a damp cloth",
            "Washes hands when done",
        ),
        renew_after_days=_YEAR_DAYS,
    ),
    SafetyTopic(
        code="adhesives-solvents",
        title="Adhesives and solvents",
        why="Solvents burn, and their fumes make you ill; some adhesives bring skin rashes.",
        lessons=(
            "Use the water-based adhesive unless the teacher hands you another.",
            "Solvents such as acetone are handed out by the teacher, a few drops at a time.",
            "No flame, torch, spark or hot plate in the room while a solvent is open.",
            "Know where the product's safety data sheet is kept.",
            "Keep the lid on; every bottle carries a label that says what is in it.",
            "Work with fresh air; keep it off your skin and out of your eyes.",
        ),
        practical_check=_check(
            "adhesives-solvents",
            "Shows where the safety data sheet and the eyewash are",
            "Names what must not be in the room while a solvent is open",
            "Spreads a thin coat and closes the lid",
        ),
        renew_after_days=_YEAR_DAYS,
    ),
    SafetyTopic(
        code="hot-water-soak",
        title="Warm-water soak",
        why="Hot water scalds, and wet floors are slippery.",
        lessons=(
            "Warm is enough, about as warm as a bath: if it steams, it is too hot.",
            "Carry water in small bowls, and wipe up spills at once.",
            "Keep water away from plugs and machines.",
            "Mind the sharp edges when you reach into a bowl.",
        ),
        practical_check=_check(
            "hot-water-soak",
            "Fills a bowl with warm, not hot, water and carries it without spilling",
            "Takes a sawn piece out of the water by its flat sides",
            "Wipes up and empties the bowl",
        ),
        renew_after_days=_YEAR_DAYS,
    ),
    SafetyTopic(
        code="files-sharp-edges",
        title="Files and sharp edges",
        why="Sawn metal has burrs that cut, and a file without a handle can stab the palm.",
        lessons=(
            "Use only files with a tight handle.",
            "Push to cut, lift to come back; hold the piece on the pin or in a clamp.",
            "Take the burr off every edge before the piece goes from hand to hand.",
            "Clean a file with its brush, not with your fingers.",
            "Offcuts with raw edges go in the box for them, not in a pocket or a bag.",
        ),
        practical_check=_check(
            "files-sharp-edges",
            "Looks that the file's handle is tight",
            "Files an edge with the piece held so that it cannot slip",
            "Takes the burr off an edge all round and shows it to the teacher",
        ),
        renew_after_days=_TERM_DAYS,
    ),
)

TOPIC_CODES: Final = tuple(topic.code for topic in TOPICS)
_BY_CODE: Final = {topic.code: topic for topic in TOPICS}


def topic(code: str) -> SafetyTopic:
    """The topic of this code. Raises `KeyError` for any other."""
    return _BY_CODE[code]


def _lines(prefix: str, heading: str, *texts: str) -> tuple[ChecklistLine, ...]:
    return tuple(
        ChecklistLine(f"{prefix}-{number}", text, heading)
        for number, text in enumerate(texts, start=1)
    )


CLASS_CHECKLIST: Final[tuple[ChecklistLine, ...]] = (
    *_lines(
        "people",
        "People",
        "A teacher who knows the tools is in the room and can see every bench",
        "Everybody who works wears eye protection: students, teachers and visitors",
        "Hair, sleeves, lanyards and jewellery are tied back or taken off",
        "Every student at a tool has a bench permit for it that has not run out",
        "Everybody knows whom to tell, and what to do, if somebody is hurt",
    ),
    *_lines(
        "room",
        "Room",
        "Ways out and the space round machines are clear",
        "Floor is dry and free of metal, cables and bags",
        "Light is good at every bench",
        "Fresh air or extraction is running where it is needed",
        "No flame or hot plate is on while a solvent is open",
    ),
    *_lines(
        "tools",
        "Tools",
        "Machine guards are fitted, and the stop switches have been tried today",
        "Clamps and wood blocks lie by the drill press; the chuck key is out",
        "File handles are tight and saw frames undamaged",
        "The blade box and the box for sharp offcuts are there and not full",
    ),
    *_lines(
        "substances",
        "Adhesives, solvents and dust",
        "The safety data sheet of every product in use is within reach",
        "Every bottle, also the small ones, carries a label with its name and hazards",
        "Solvents are locked away but for what is in use",
        "Dust is wiped up damp; no compressed air is used for cleaning",
    ),
    *_lines(
        "help",
        "Help at hand",
        "Eyewash can be reached without obstacles, and its weekly trial is written down",
        "First-aid kit is full and its place is marked",
        "Fire extinguisher is in its place and its inspection has not run out",
    ),
)
"""For a teacher before a class, each line with one of the four answers."""

PREPARATION_CHECKLIST: Final[tuple[ChecklistLine, ...]] = (
    *_lines(
        "plan",
        "Plan and metal",
        "The cut plan is approved, and this print is of its latest revision",
        "The label on the metal matches the plan: alloy, thickness and stock piece",
        "The thickness has been measured with a caliper",
        "The 100 mm bars on the print measure 100 mm both ways",
    ),
    *_lines(
        "bench",
        "Bench",
        "Bench pin is firm; tray or skin is there to catch filings and scrap",
        "Blades, drills, centre punch and block of wood for this plan are laid out",
        "Abrasive paper, flat block, cleaner and clean cloth are laid out",
        "Adhesive and something flat and heavy to press with are laid out",
    ),
    *_lines(
        "self",
        "Myself",
        "Eye protection is on and clean",
        "Hair, sleeves and jewellery are tied back or taken off",
        "I have the permits for today's steps",
        "I know which step comes next and who signs it",
    ),
)
"""For a student before work at the bench begins."""
