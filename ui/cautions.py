"""The usual cautions of moving a chip, each with where it was read.

A source of ``common practice`` is known in the trade and was not looked up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

When = Literal["before lifting", "while hot", "before power", "first power", "always"]
COMMON = "common practice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution: when it counts, what can go wrong, what to do."""

    when: When
    title: str
    text: str
    source: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        when="before lifting",
        title="Data that cannot be made again",
        text="If nobody has a copy of what the chip holds and losing it would hurt, "
        "stop here and take it to a data recovery specialist.",
        source=COMMON,
    ),
    Caution(
        when="before lifting",
        title="Back the memory up",
        text="Read the memory out before lifting it, board unpowered, at least twice; "
        "go on only if both readings have the same hash. Keep the file and the hash.",
        source="flashrom manual and serial-flash reading practice",
    ),
    Caution(
        when="before lifting",
        title="Power off",
        text="Take the supply and every battery off and let large capacitors "
        "discharge before touching the board.",
        source=COMMON,
    ),
    Caution(
        when="always",
        title="Static electricity",
        text="Wear a wrist strap (path to ground under 35 megohm) and work on a "
        "dissipative mat.",
        source="ANSI/ESD S20.20-2007 grounding table",
    ),
    Caution(
        when="while hot",
        title="Burns",
        text="Hot air leaves the nozzle at 300 to 480 degrees C and irons are as hot; "
        "board and chip stay hot for minutes. Put tools back on their stands.",
        source="hot-air station settings reported by makers; burns: " + COMMON,
    ),
    Caution(
        when="while hot",
        title="Fumes",
        text="Rosin fume causes asthma. Use fume extraction at the joint.",
        source="HSE research report RR900",
    ),
    Caution(
        when="while hot",
        title="Torn lands",
        text="Lift the chip straight up, only when every joint has melted; pulling at "
        "a held or overheated chip tears lands off the board. Shield the neighbours.",
        source="Circuit Technology Center, review of hot-air rework; straight "
        "lift: " + COMMON,
    ),
    Caution(
        when="before power",
        title="No power before inspection",
        text="Clean off the flux, look at every joint under magnification, confirm "
        "pin 1 and measure supply to ground. This report alone is no leave to power.",
        source=COMMON,
    ),
    Caution(
        when="first power",
        title="First power from a current-limited supply",
        text="Set the limit just above what the board needs and watch the current; "
        "switch off at once if it rises.",
        source=COMMON,
    ),
)
