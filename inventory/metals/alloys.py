"""What is it made of? The alloys a school metals class meets, with what each one asks for.

Densities and melting ranges come from mill data sheets and materials references, each with its
status; compositions are the limits of the named alloy, not an analysis of a given sheet. Where
lead or nickel matters, the mill's certificate for the sheet decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from .saying import ENGLISH, Say
from .sources import Status, UnknownMetalError


class ColourFamily(StrEnum):
    """The metal's look in drawings; the style sheet gives each its colour and hatching."""

    COPPER = "copper"
    BRASS = "brass"
    BRONZE = "bronze"
    WHITE = "white"
    GREY = "grey"
    SILVER = "silver"


class CautionKind(StrEnum):
    """When a caution about an alloy matters."""

    DUST = "dust"  # rubbing, sawing, filing
    HEAT = "heat"  # torch or any strong heat, which no step here asks for
    WEAR = "wear"  # what the finished piece is used as
    WORDS = "words"  # how the piece may be described


@dataclass(frozen=True, slots=True)
class AlloyCaution:
    """One caution in plain words."""

    kind: CautionKind
    text: str


@dataclass(frozen=True, slots=True)
class Alloy:
    """One alloy; shares are fractions of mass (0.18 = 18 %).

    `lead_ppm_most` is the most lead the alloy's own limits allow, in parts per million; None
    where no limit is stated there, which does not mean none. `made_to` names in words the
    standards that sheet is commonly ordered to.
    """

    code: str
    name: str
    plain_name: str
    makeup: str
    density_g_cm3: Decimal
    density_status: Status
    melting_c: tuple[int, int]  # solidus, liquidus
    melting_status: Status
    colour: ColourFamily
    lead_ppm_most: int | None = None
    lead_status: Status = Status.VERIFIED
    nickel_share: Decimal = Decimal(0)
    zinc_share: Decimal = Decimal(0)
    precious: bool = False
    for_wearing: bool = True
    made_to: str = ""
    cautions: tuple[AlloyCaution, ...] = ()

    def cautions_about(self, *kinds: CautionKind, say: Say = ENGLISH) -> tuple[str, ...]:
        """The texts of the cautions of these kinds, in the table's order."""
        return tuple(say(caution.text) for caution in self.cautions if caution.kind in kinds)


_DUST = AlloyCaution(
    CautionKind.DUST,
    "Do not breathe or swallow the dust. Wipe it up damp, never blow it, and wash your hands "
    "before you eat or rub your eyes.",
)
_ALUMINIUM_DUST = AlloyCaution(
    CautionKind.DUST,
    "Fine aluminium dust can burn. Wipe it up damp, keep it away from flames and sparks, and "
    "never mix it with iron or steel dust in one collector.",
)
_ALUMINIUM_HEAT = AlloyCaution(
    CautionKind.HEAT,
    "Aluminium gives no glow before it melts: never heat it without the teacher.",
)
_ZINC_FUME = AlloyCaution(
    CautionKind.HEAT,
    "Contains zinc, which gives off zinc fume when heated strongly: never torch it without the "
    "teacher.",
)
_LEAD_700 = AlloyCaution(
    CautionKind.WEAR,
    "This alloy may hold up to 700 ppm of lead. The United States limit for children's "
    "jewellery is 100 ppm: ask for the mill's certificate before a piece is sold or given to a "
    "child.",
)
_LEAD_500 = AlloyCaution(
    CautionKind.WEAR,
    "This alloy may hold up to 500 ppm of lead. The United States limit for children's "
    "jewellery is 100 ppm: ask for the mill's certificate before a piece is sold or given to a "
    "child.",
)
_EAR_POSTS = AlloyCaution(
    CautionKind.WEAR,
    "Not meant for ear posts or anything worn through the skin: use bought findings that are "
    "made for that.",
)

# Sources of the limits named in the cautions: lead in children's products 15 USC 1278a
# (verified); nickel release (EC) 1907/2006 Annex XVII entry 27 (verified); the word "sterling"
# 16 CFR 23 (verified); combustible aluminium dust NFPA 484, now NFPA 660 (from memory).
ALLOYS: Final[tuple[Alloy, ...]] = (
    Alloy(
        code="C11000",
        name="Copper ETP C11000",
        plain_name="copper",
        makeup="99.9 % copper",
        density_g_cm3=Decimal("8.89"),
        density_status=Status.VERIFIED,  # mill data sheet; 8.89 to 8.94 are printed
        melting_c=(1065, 1083),
        melting_status=Status.VERIFIED,
        colour=ColourFamily.COPPER,
        made_to="ASTM B152 for sheet, ASTM B370 where it is sold by the ounce",
        cautions=(_DUST, _EAR_POSTS),
    ),
    Alloy(
        code="C26000",
        name="Cartridge brass C26000",
        plain_name="yellow brass",
        makeup="70 % copper, 30 % zinc",
        density_g_cm3=Decimal("8.53"),
        density_status=Status.VERIFIED,  # three data sheets agree
        melting_c=(916, 954),
        melting_status=Status.VERIFIED,
        colour=ColourFamily.BRASS,
        lead_ppm_most=700,
        zinc_share=Decimal("0.30"),
        made_to="ASTM B36",
        cautions=(_DUST, _ZINC_FUME, _LEAD_700, _EAR_POSTS),
    ),
    Alloy(
        code="C23000",
        name="Red brass C23000",
        plain_name="red brass",
        makeup="85 % copper, 15 % zinc",
        density_g_cm3=Decimal("8.75"),
        density_status=Status.VERIFIED,  # two data sheets
        melting_c=(988, 1027),
        melting_status=Status.VERIFIED,
        colour=ColourFamily.BRONZE,
        lead_ppm_most=500,
        zinc_share=Decimal("0.15"),
        made_to="ASTM B36",
        cautions=(_DUST, _ZINC_FUME, _LEAD_500, _EAR_POSTS),
    ),
    Alloy(
        code="C22000",
        name="Commercial bronze C22000",
        plain_name="jeweller's bronze",
        makeup="90 % copper, 10 % zinc (sold as bronze, yet a brass)",
        density_g_cm3=Decimal("8.80"),
        density_status=Status.VERIFIED,  # materials reference
        melting_c=(1021, 1043),
        melting_status=Status.VERIFIED,
        colour=ColourFamily.BRONZE,
        lead_ppm_most=500,
        lead_status=Status.MEMORY,
        zinc_share=Decimal("0.10"),
        made_to="ASTM B36",
        cautions=(_DUST, _ZINC_FUME, _LEAD_500, _EAR_POSTS),
    ),
    Alloy(
        code="C75200",
        name="Nickel silver C75200",
        plain_name="nickel silver",
        makeup="65 % copper, 18 % nickel, 17 % zinc; no silver at all",
        density_g_cm3=Decimal("8.73"),
        density_status=Status.MEMORY,
        melting_c=(1071, 1110),
        melting_status=Status.MEMORY,
        colour=ColourFamily.WHITE,
        lead_ppm_most=500,
        lead_status=Status.MEMORY,
        nickel_share=Decimal("0.18"),
        zinc_share=Decimal("0.17"),
        made_to="ASTM B122",
        cautions=(
            _DUST,
            _ZINC_FUME,
            AlloyCaution(
                CautionKind.WEAR,
                "Contains about 18 % nickel: not for ear posts, and it can bring a rash on skin "
                "that nickel troubles. The European Union limits how much nickel a worn piece "
                "may give off.",
            ),
            _LEAD_500,
            AlloyCaution(
                CautionKind.WORDS,
                "It holds no silver: never label a piece of it silver.",
            ),
        ),
    ),
    Alloy(
        code="C51000",
        name="Phosphor bronze A C51000",
        plain_name="phosphor bronze",
        makeup="95 % copper, 5 % tin, a trace of phosphorus",
        density_g_cm3=Decimal("8.86"),
        density_status=Status.VERIFIED,
        melting_c=(954, 1049),
        melting_status=Status.VERIFIED,  # seen rounded, 960 to 1050
        colour=ColourFamily.BRONZE,
        lead_ppm_most=500,
        made_to="ASTM B103",
        cautions=(_DUST, _LEAD_500, _EAR_POSTS),
    ),
    Alloy(
        code="A91100",
        name="Aluminium 1100",
        plain_name="aluminium",
        makeup="99 % aluminium",
        density_g_cm3=Decimal("2.71"),
        density_status=Status.VERIFIED,
        melting_c=(643, 657),
        melting_status=Status.VERIFIED,
        colour=ColourFamily.GREY,
        made_to="ASTM B209",
        cautions=(_ALUMINIUM_DUST, _ALUMINIUM_HEAT, _EAR_POSTS),
    ),
    Alloy(
        code="A96061",
        name="Aluminium 6061",
        plain_name="hard aluminium",
        makeup="aluminium with about 1 % magnesium and 0.6 % silicon",
        density_g_cm3=Decimal("2.70"),
        density_status=Status.VERIFIED,
        melting_c=(582, 652),
        melting_status=Status.VERIFIED,
        colour=ColourFamily.GREY,
        made_to="ASTM B209",
        cautions=(_ALUMINIUM_DUST, _ALUMINIUM_HEAT, _EAR_POSTS),
    ),
    Alloy(
        code="AG925",
        name="Sterling silver 925",
        plain_name="sterling silver",
        makeup="92.5 % silver, 7.5 % copper",
        density_g_cm3=Decimal("10.36"),
        density_status=Status.VERIFIED,
        melting_c=(779, 893),  # one printed data sheet has these two swapped
        melting_status=Status.SECONDARY,
        colour=ColourFamily.SILVER,
        precious=True,
        made_to="ordered by fineness: 925 parts of silver in 1000",
        cautions=(
            _DUST,
            AlloyCaution(
                CautionKind.WORDS,
                "Only metal with at least 925 parts of silver in 1000 may be called sterling: "
                "keep its scrap and filings apart from all others.",
            ),
        ),
    ),
    Alloy(
        code="AG999",
        name="Fine silver 999",
        plain_name="fine silver",
        makeup="99.9 % silver",
        density_g_cm3=Decimal("10.49"),
        density_status=Status.VERIFIED,
        melting_c=(962, 962),  # 961.8 verified; a pure metal has one melting point
        melting_status=Status.VERIFIED,
        colour=ColourFamily.SILVER,
        precious=True,
        made_to="ordered by fineness: 999 parts of silver in 1000",
        cautions=(_DUST,),
    ),
    Alloy(
        code="C36000",
        name="Free-cutting brass C36000 (leaded)",
        plain_name="leaded brass",
        makeup="60 to 63 % copper, about 3 % lead, the rest zinc",
        density_g_cm3=Decimal("8.49"),
        density_status=Status.VERIFIED,  # 8.49 to 8.50
        melting_c=(888, 899),
        melting_status=Status.VERIFIED,
        colour=ColourFamily.BRASS,
        lead_ppm_most=37_000,  # 2.5 to 3.0 % today, older listings to 3.7 %
        zinc_share=Decimal("0.35"),
        for_wearing=False,
        made_to="ASTM B16 (rod; it is seldom rolled to sheet)",
        cautions=(
            AlloyCaution(
                CautionKind.DUST,
                "Contains lead. Ask the teacher before you saw, file or rub it; wipe up damp and "
                "wash your hands and the bench.",
            ),
            _ZINC_FUME,
            AlloyCaution(
                CautionKind.WEAR,
                "Contains up to 3.7 % lead (37 000 ppm): not for anything that is worn, held in "
                "the mouth or given to a child.",
            ),
        ),
    ),
)
"""Standards named in `made_to` are from memory; the supplier's paper says what a sheet is."""

_BY_CODE: Final = {alloy.code: alloy for alloy in ALLOYS}
ALLOY_CODES: Final = tuple(_BY_CODE)


def alloy(code: str) -> Alloy:
    """The alloy of this code. Raises `UnknownMetalError`, naming the known codes."""
    try:
        return _BY_CODE[code]
    except KeyError:
        known = ", ".join(ALLOY_CODES)
        raise UnknownMetalError(f"That alloy is not in the table: choose from {known}.") from None
