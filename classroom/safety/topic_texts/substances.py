"""Substances that a school starts with, in every language of the house; our own words.

Acetone: GHS H225, H319, H336 as its safety data sheets say; flash point -18 °C after NIOSH. The
rest is common practice, no source. A school rewords all of it and adds its own data sheets.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class SubstanceWords:
    title: str
    cautions: tuple[str, ...]


SUBSTANCES: Final[tuple[tuple[tuple[str, ...], dict[str, SubstanceWords]], ...]] = (
    (
        ("adhesives-solvents",),
        {
            "en": SubstanceWords(
                "Acetone",
                (
                    "Catches fire very easily, even in a cold room.",
                    "Its vapour is heavier than air and creeps along tables and floor: no flame, "
                    "torch, spark or hot plate in the room.",
                    "It stings the eyes, and its vapour makes you dizzy: eye protection and fresh "
                    "air.",
                    "The teacher hands out a few drops; the bottle stays locked away.",
                    "Wet cloths go into the closed metal bin, not into the waste paper.",
                ),
            ),
            "es": SubstanceWords(
                "Acetona",
                (
                    "Se inflama con mucha facilidad, también en una sala fría.",
                    "Su vapor pesa más que el aire y se arrastra por mesas y suelo: ni llama, ni "
                    "soplete, ni chispa, ni placa caliente en la sala.",
                    "Irrita los ojos y su vapor marea: protección para los ojos y aire fresco.",
                    "El profesor reparte unas gotas; el frasco se queda bajo llave.",
                    "Los paños mojados van al cubo metálico cerrado, no a la papelera.",
                ),
            ),
        },
    ),
    (
        ("adhesives-solvents",),
        {
            "en": SubstanceWords(
                "Water-based adhesive",
                (
                    "Keep it out of your eyes, and wash it off your skin.",
                    "Some people's skin reacts to it: stop and tell the teacher if yours itches.",
                    "Close the lid after use.",
                ),
            ),
            "es": SubstanceWords(
                "Adhesivo a base de agua",
                (
                    "Que no entre en los ojos; lávalo de la piel.",
                    "La piel de algunas personas reacciona: para y avisa al profesor si te pica.",
                    "Cierra la tapa después de usarlo.",
                ),
            ),
        },
    ),
    (
        ("adhesives-solvents",),
        {
            "en": SubstanceWords(
                "Contact cement with solvent",
                (
                    "Its solvent burns: no flame, torch, spark or hot plate in the room.",
                    "Use it only when the teacher hands it out, with fresh air.",
                    "Keep it off your skin, and do not breathe over the open tin.",
                ),
            ),
            "es": SubstanceWords(
                "Cola de contacto con disolvente",
                (
                    "Su disolvente arde: ni llama, ni soplete, ni chispa, ni placa caliente en la "
                    "sala.",
                    "Úsala solo cuando la reparta el profesor, con aire fresco.",
                    "Que no te toque la piel, y no respires sobre la lata abierta.",
                ),
            ),
        },
    ),
)
