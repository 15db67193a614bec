"""Finds one row of feet in a photo taken nearly along the board.

A network marks toes, outer ends of lands and shoulders of leads.  As many toes as the
row has leads, on one line and equally far apart, are the row; it is then looked at once
more, laid level and always in the same size.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING

import cv2
import numpy as np

from vision import networks
from vision.geometry import apply_homography, vertex
from vision.results import NotFound

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    ByteImage = npt.NDArray[np.uint8]

STEP_PX, MAP_STEP_PX = 32, 2
WIDTH_PX, LEAST_PITCH_PX = 512, 16
"""Width of the photo as it is searched; more, where the row's leads would stand closer
than this were it as short a share of the photo as may be."""
LEAST_ROW_FRAC = 0.25
TOE, LAND, SHOULDER = 0, 1, 2
MIN_PEAK = 0.25
MOST_PEAKS = 40
MAX_TURN_DEG = 50.0
DEPTHS, FLAT = np.linspace(-0.35, 0.35, 15), np.linspace(-0.1, 0.1, 5)
"""How much nearer the row's last foot may stand than its first, as a share; less where
a foot is hidden, so that a row of one foot less is not stretched to fit."""
OFF_PITCHES = 0.25
"""How far a toe may stand off its place: leads that are bent or lifted."""
MOST_HIDDEN_FRAC = 0.25
"""Of the toes; what hides one from afar may show it when looked at closely."""
SECOND_FRAC = 0.75
"""A second row nearly as large as the largest: nobody can tell which one is meant."""
STRIP_PITCH_PX = 64
ABOVE, BELOW, ASIDE = 2.0, 1.5, 1.0
"""What is laid level above and below the toes and beside the row, in pitches."""
REACH = {TOE: (-0.5, 0.35), LAND: (-0.1, 0.9), SHOULDER: (-1.8, -0.15)}
"""Where the places of a lead lie below its toe, in pitches."""
SIDEWAYS = 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class SideRow:
    """Leads of a row from left to right, in pitches of the row laid level.

    ``places`` (3, n, 2): toes, outer ends of lands, shoulders, along and down;
    ``belief`` (3, n) 0..1; ``to_photo`` (3, 3) from pitches to photo px.
    """

    places: Floats = field(compare=False)
    belief: Floats = field(compare=False)
    to_photo: Floats = field(compare=False)
    pitch_px: float


def find_row(pixels: ByteImage, lead_count: int) -> SideRow | NotFound:
    """Find the largest row of so many feet.

    Parameters
    ----------
    pixels : ndarray of shape (rows, cols, 3), uint8
        Upright photo, BGR.
    lead_count : int
        Leads in the row, at least 3.

    Returns
    -------
    SideRow or NotFound

    Raises
    ------
    ModelError
        The network file is missing or altered.
    """
    line = _search(pixels, lead_count)
    if isinstance(line, NotFound):
        return line
    pitch_px = float(np.linalg.norm(line.ends[1] - line.ends[0])) / (lead_count - 1)
    to_photo = _from_pitches(line, lead_count)
    places, belief = _look_again(pixels, to_photo, lead_count, pitch_px)
    return SideRow(places=places, belief=belief, to_photo=to_photo, pitch_px=pitch_px)


@dataclass(frozen=True, slots=True)
class _Line:
    """A row on the whole photo: its first and last toe, px, and its depth."""

    ends: Floats = field(compare=False)
    depth: float
    score: float

    def places(self, along: Floats) -> Floats:
        """Give places along the line, 0 at the first toe and 1 at the last."""
        share = along * (1 + self.depth) / (1 + self.depth * along)
        places: Floats = self.ends[0] + share[:, None] * (self.ends[1] - self.ends[0])
        return places


def _search(pixels: ByteImage, lead_count: int) -> _Line | NotFound:
    """Find the row on the whole photo."""
    wide = max(WIDTH_PX, LEAST_PITCH_PX * lead_count / LEAST_ROW_FRAC)
    scale = min(wide / pixels.shape[1], 1.5)
    off = (scale - 1) / 2
    matrix = np.array([[scale, 0, off], [0, scale, off], [0, 0, 1]])
    size = tuple(max(STEP_PX, round(n * scale)) for n in pixels.shape[1::-1])
    toes = _peaks(_places_in(_laid(pixels, matrix, scale, size))[TOE])
    lines = _lines_among(toes, lead_count, DEPTHS, hidden=0) or _lines_among(
        toes, lead_count, FLAT, hidden=int(MOST_HIDDEN_FRAC * lead_count)
    )
    if not lines:
        return NotFound(
            reason=f"no row of {lead_count} feet seen from the side: {len(toes)} "
            "feet stand out"
        )
    whole = [line for line in lines if not _goes_on(line, toes, lead_count)]
    if not whole:
        return NotFound(
            reason=f"something like a foot stands beside the {lead_count} leads: "
            "another package, or not the whole row"
        )
    whole.sort(key=lambda line: -line.score)
    best = whole[0]
    middle = best.places(np.array([0.5]))
    for other in whole[1:]:
        is_same = np.linalg.norm(other.places(np.array([0.5])) - middle) < best.score
        if other.score > SECOND_FRAC * best.score and not is_same:
            return NotFound(
                reason=f"two rows of {lead_count} feet: show the one that is meant "
                "larger, or alone"
            )
    return replace(best, ends=(best.ends + 0.5) / scale - 0.5)


def _lines_among(
    toes: Floats, count: int, depths: Floats, *, hidden: int
) -> list[_Line]:
    """Give every line of so many equally distant toes; the score is their pitch."""
    lines = []
    along = np.linspace(0, 1, count)
    for pair in combinations(range(len(toes)), 2):
        ends = toes[sorted(pair, key=lambda k: float(toes[k, 0]))]
        way = ends[1] - ends[0]
        pitch = float(np.linalg.norm(way)) / (count - 1)
        if pitch < 1 or abs(np.degrees(np.arctan2(way[1], way[0]))) > MAX_TURN_DEG:
            continue
        due = np.array([_Line(ends, d, 0.0).places(along) for d in depths])
        apart = np.linalg.norm(due[:, :, None] - toes, axis=3)
        off = np.minimum(apart.min(axis=2) / pitch, OFF_PITCHES)
        best = int(off.mean(axis=1).argmin())
        near = apart[best].argmin(axis=1)[off[best] < OFF_PITCHES]
        is_whole = len(set(near)) == len(near) >= max(3, count - hidden)
        if is_whole and not _skips(toes, near, due[best]):
            lines.append(_Line(ends, float(depths[best]), pitch))
    return lines


def _goes_on(line: _Line, toes: Floats, count: int) -> bool:
    """Tell whether a foot stands where the row would go on beyond one of its ends."""
    step = 1 / (count - 1)
    due = line.places(np.array([-step, 1 + step]))
    apart = np.linalg.norm(due[:, None] - toes, axis=2)
    return bool(apart.min() < OFF_PITCHES * line.score)


def _skips(toes: Floats, near: npt.NDArray[np.intp], due: Floats) -> bool:
    """Tell whether other feet stand on a line midway between its own."""
    middles = (due[1:] + due[:-1]) / 2
    others = np.delete(toes, near, axis=0)
    apart = np.linalg.norm(middles[:, None] - others, axis=2)
    step = np.linalg.norm(np.diff(due, axis=0), axis=1)
    return bool((apart < OFF_PITCHES * step[:, None]).any())


def _from_pitches(line: _Line, lead_count: int) -> Floats:
    """Map pitches along and down from the first toe to photo px, shape (3, 3)."""
    first, way = line.ends[0], line.ends[1] - line.ends[0]
    down = np.array([-way[1], way[0]]) * (1 + line.depth / 2)
    matrix: Floats = np.eye(3)
    matrix[:2] = np.column_stack(
        [way * (1 + line.depth) + first * line.depth, down, first]
    )
    matrix[2, 0] = line.depth
    return matrix @ np.diag([1 / (lead_count - 1), 1 / (lead_count - 1), 1.0])


def _look_again(
    pixels: ByteImage, to_photo: Floats, lead_count: int, pitch_px: float
) -> tuple[Floats, Floats]:
    """Find toe, land and shoulder of every lead on the row laid level, pitches."""
    s = STRIP_PITCH_PX
    to_strip = np.array(
        [[s, 0, s * (ASIDE + 0.5)], [0, s, s * ABOVE], [0, 0, 1]], float
    )
    size = (round(s * (lead_count + 2 * ASIDE)), round(s * (ABOVE + BELOW)))
    matrix = to_strip @ np.linalg.inv(to_photo)
    maps = _places_in(_laid(pixels, matrix, s / pitch_px, size))
    places, belief = np.zeros((3, lead_count, 2)), np.zeros((3, lead_count))
    for k in range(lead_count):
        down = 0.0
        for kind in (TOE, LAND, SHOULDER):
            low, high = (down + off for off in REACH[kind])
            x, y, belief[kind, k] = _strongest(maps[kind], k, low, high)
            places[kind, k] = x, y
            if kind == TOE:
                down = y
    return places, belief


def _strongest(
    places: npt.NDArray[np.float32], lead: int, low: float, high: float
) -> tuple[float, float, float]:
    """Give the strongest place of a lead between two levels, and the belief in it."""
    cells = STRIP_PITCH_PX / MAP_STEP_PX
    x0 = int((lead + ASIDE + 0.5 - SIDEWAYS) * cells)
    y0 = max(0, int((ABOVE + low) * cells))
    part = places[
        y0 : int((ABOVE + high) * cells) + 1, x0 : int(x0 + 2 * SIDEWAYS * cells) + 1
    ]
    row, col = np.unravel_index(int(part.argmax()), part.shape)
    x, y = _top(places, x0 + int(col), y0 + int(row))
    to_pitches = MAP_STEP_PX / STRIP_PITCH_PX
    half = (MAP_STEP_PX - 1) / 2 / STRIP_PITCH_PX
    return (
        x * to_pitches + half - ASIDE - 0.5,
        y * to_pitches + half - ABOVE,
        float(part[row, col]),
    )


def _laid(
    pixels: ByteImage, matrix: Floats, scale: float, size: tuple[int, ...]
) -> ByteImage:
    """Warp a photo; where it shrinks, it is made soft first."""
    if scale < 1:
        pixels = cv2.GaussianBlur(pixels, (0, 0), 0.45 / scale)  # type: ignore[assignment]
    laid = cv2.warpPerspective(
        pixels, matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return laid.astype(np.uint8, copy=False)


def _places_in(picture: ByteImage) -> npt.NDArray[np.float32]:
    """Let the network look: belief in each kind of place, (3, rows / 2, cols / 2)."""
    high, wide = (-(-n // STEP_PX) * STEP_PX for n in picture.shape[:2])
    padded = cv2.copyMakeBorder(
        picture, 0, high - picture.shape[0], 0, wide - picture.shape[1],
        cv2.BORDER_REPLICATE,
    )  # fmt: skip
    logits = networks.run("side", padded[None].astype(np.uint8, copy=False))[0][0]
    belief: npt.NDArray[np.float32] = 1 / (1 + np.exp(-logits))
    return belief


def _peaks(places: npt.NDArray[np.float32]) -> Floats:
    """Give the strongest places of a map, (n, 2) px of the picture."""
    is_top = (places == cv2.dilate(places, np.ones((5, 5), np.uint8))) & (
        places > MIN_PEAK
    )
    rows, cols = np.nonzero(is_top)
    order = np.argsort(-places[rows, cols])[:MOST_PEAKS]
    at = [_top(places, int(cols[k]), int(rows[k])) for k in order]
    return np.array(at, float).reshape(-1, 2) * MAP_STEP_PX + (MAP_STEP_PX - 1) / 2


def _top(places: npt.NDArray[np.float32], col: int, row: int) -> tuple[float, float]:
    """Give the top of the bell about a cell: of a parabola through its logarithm."""
    across = vertex(np.log(places[row].astype(float) + 1e-6), col)
    down = vertex(np.log(places[:, col].astype(float) + 1e-6), row)
    return col + float(np.clip(across, -1, 1)), row + float(np.clip(down, -1, 1))


def place_px(row: SideRow, kind: int) -> Floats:
    """Say where one kind of place of every lead lies in the photo.

    Parameters
    ----------
    row : SideRow
    kind : int
        ``TOE``, ``LAND`` or ``SHOULDER``.

    Returns
    -------
    ndarray of shape (n, 2)
        Pixels.
    """
    return apply_homography(row.to_photo, row.places[kind])
