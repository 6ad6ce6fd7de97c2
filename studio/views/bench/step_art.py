"""The house's small line drawings of the bench steps, each with what it shows in words."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from studio.core.bench.texts import BenchStepKind


@dataclass(frozen=True, slots=True)
class Art:
    """A drawing in static/img; `shows` stands in its place where it cannot be seen, in the
    language that is on."""

    name: str
    text: str

    @property
    def shows(self) -> str:
        return _(self.text)

    @property
    def path(self) -> str:
        return f"img/step-{self.name}.svg"


ART: dict[BenchStepKind, tuple[Art, ...]] = {
    BenchStepKind.PREPARE: (
        Art("rub", "A flat block with abrasive paper rubs the marked area of a sheet and no more."),
        Art(
            "tilt", "Tilt test: the sheet is held aslant under a lamp; the light lies evenly on it."
        ),
        Art(
            "water",
            "Water test: on the left one whole film of water, on the right it breaks into beads.",
        ),
    ),
    BenchStepKind.ADHERE: (
        Art(
            "coat",
            "A spreader draws one thin, even coat over the back of the pattern, to its edge.",
        ),
        Art(
            "press",
            "Arrows run from the middle of the pattern to its edges: press in this direction.",
        ),
    ),
    BenchStepKind.DRY: (
        Art("dry", "The metal lies flat under clean paper and a weight, beside a clock."),
    ),
    BenchStepKind.DRILL: (
        Art(
            "punch",
            "A centre punch stands upright on the cross of a drill mark, over a steel block.",
        ),
        Art("clamp", "The sheet is clamped on a block of wood under the drill; the hand is away."),
    ),
    BenchStepKind.SAW: (
        Art("window", "Lines are numbered: the window inside is line 1, the outline is line 2."),
        Art(
            "upright",
            "The saw blade stands upright against the bench pin and moves straight up and down.",
        ),
    ),
    BenchStepKind.REMOVE: (
        Art("soak", "The piece lies in a bowl of warm water; one corner of the paper comes off."),
    ),
    BenchStepKind.FINISH: (
        Art(
            "file", "A file is pushed forward along the edge of a piece that lies on the bench pin."
        ),
        Art("cotton", "A ball of cotton wool is drawn along the edge and catches nowhere."),
    ),
}


def art_of(kind: BenchStepKind | str) -> tuple[Art, ...]:
    """The drawings of a step; none for a kind that is not known."""
    return ART.get(BenchStepKind(kind), ()) if kind in set(BenchStepKind) else ()


def translated_texts() -> set[str]:
    """What the drawings show, for the catalogues of other languages."""
    return {art.text for arts in ART.values() for art in arts}
