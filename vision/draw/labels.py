"""Where lead numbers and pin names go so that none covers another."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from vision.draw.canvas import PAPER, Box, Text, clear_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from vision.draw.view import View
    from vision.results import Lead, Point

MANY_LEADS = 32
EVERY = 5
GAP_PX = 10.0
LEADER_PX = 6.0
TRIES = 60


class Label(NamedTuple):
    """A lead's word, the toe it belongs to, and whether it needs a leader line."""

    text: Text
    toe: Point
    is_moved: bool


def lead_labels(
    leads: Sequence[Lead],
    names: Mapping[int, str],
    view: View,
    *,
    size: int,
    taken: Sequence[Box] = (),
) -> list[Label]:
    """Place the numbers and names of leads outside their toes.

    Parameters
    ----------
    leads : sequence of Lead
    names : mapping of int to str
        Pin names by lead number; may be empty.
    view : View
    size : int
        Height of the text in pixels.
    taken : sequence of Box, optional
        Boxes that must stay clear.

    Returns
    -------
    list of Label
        In the order of the leads.  Of more than `MANY_LEADS` leads without names
        only the first, the last and every fifth are numbered.

    Notes
    -----
    Each side of the package is spread along its own direction just enough for the
    boxes to be apart; what still collides (round the corners of a four-sided
    package) is moved outward.
    """
    shown = [lead for lead in leads if _is_numbered(lead, leads, names)]
    placed: dict[int, Label] = {}
    boxes: list[Box] = list(taken)
    for side in _sides(shown, view):
        for lead, label in zip(side.leads, _spread(side, names, size), strict=True):
            clear = _push_out(label, side.outward, boxes)
            boxes.append(clear.text.box)
            placed[lead.number] = clear
    return [placed[lead.number] for lead in shown]


class _Side(NamedTuple):
    leads: list[Lead]
    toes: np.ndarray
    outward: np.ndarray


def _is_numbered(lead: Lead, leads: Sequence[Lead], names: Mapping[int, str]) -> bool:
    if len(leads) <= MANY_LEADS or lead.number in names:
        return True
    return lead.number in (1, len(leads)) or lead.number % EVERY == 0


def _sides(leads: Sequence[Lead], view: View) -> list[_Side]:
    """Group leads that point the same way, to within 45 degrees of the first."""
    groups: list[list[tuple[Lead, np.ndarray, np.ndarray]]] = []
    for lead in leads:
        toe = np.asarray(view.at(lead.toe_px))
        way = toe - np.asarray(view.at(lead.heel_px))
        way = way / (np.linalg.norm(way) or 1.0)
        for group in groups:
            if float(way @ group[0][2]) > 0.7:
                group.append((lead, toe, way))
                break
        else:
            groups.append([(lead, toe, way)])
    sides = []
    for group in groups:
        outward = np.sum([way for _, _, way in group], axis=0)
        outward = outward / (np.linalg.norm(outward) or 1.0)
        along = np.array([-outward[1], outward[0]])
        toes = np.array([toe for _, toe, _ in group])
        order = np.argsort(toes @ along)
        sides.append(_Side([group[k][0] for k in order], toes[order], outward))
    return sides


def _spread(side: _Side, names: Mapping[int, str], size: int) -> list[Label]:
    """Place one side's labels in a row, spread along the side where it is tight."""
    along = np.array([-side.outward[1], side.outward[0]])
    words = [_words(lead, names) for lead in side.leads]
    wants = side.toes @ along
    pitch_px = float(np.diff(wants).min()) if len(wants) > 1 else np.inf
    flat = [Text(word, (0.0, 0.0), size) for word in words]
    is_upright = (
        max(_need(text, along) for text in flat) <= max(pitch_px, 0.0)
        or abs(along[0]) < 0.8
    )
    texts = [Text(word, (0.0, 0.0), size, PAPER, is_upright) for word in words]
    needs = [_need(text, along) for text in texts]
    places = _apart(wants, needs)
    row = float((side.toes @ side.outward).max()) + GAP_PX
    labels = []
    for text, toe, want, place in zip(texts, side.toes, wants, places, strict=True):
        depth = row if abs(place - want) > LEADER_PX else _depth(toe, side) + GAP_PX
        depth += 2 * LEADER_PX if abs(place - want) > LEADER_PX else 0.0
        centre = along * place + side.outward * (depth + _reach(text, side.outward))
        moved = _moved(text, centre)
        labels.append(
            Label(moved, (float(toe[0]), float(toe[1])), abs(place - want) > LEADER_PX)
        )
    return labels


def _depth(toe: np.ndarray, side: _Side) -> float:
    return float(toe @ side.outward)


def _words(lead: Lead, names: Mapping[int, str]) -> str:
    name = names.get(lead.number)
    return f"{lead.number} {name}" if name else str(lead.number)


def _extent(text: Text) -> np.ndarray:
    left, top, right, bottom = text.box
    return np.array([right - left, bottom - top])


def _need(text: Text, along: np.ndarray) -> float:
    """Give the distance along a side at which two such boxes are apart."""
    width, height = _extent(text)
    return float(
        min(
            width / max(abs(along[0]), 1e-6),
            height / max(abs(along[1]), 1e-6),
        )
    )


def _reach(text: Text, outward: np.ndarray) -> float:
    """Give how far the box reaches from its middle against the outward direction."""
    return float(np.abs(outward) @ _extent(text)) / 2


def _apart(wants: np.ndarray, needs: Sequence[float]) -> list[float]:
    """Move sorted places as little as can be so that neighbours keep their distance.

    Notes
    -----
    Least squares under ordered gaps: take the gaps off, pool adjacent violators,
    put the gaps on again (isotonic regression; Barlow et al. 1972, from memory).
    """
    gaps = [0.0] + [(a + b) / 2 for a, b in itertools.pairwise(needs)]
    offsets = np.cumsum(gaps)
    blocks: list[tuple[float, int]] = []
    for value in np.asarray(wants, float) - offsets:
        mean, count = float(value), 1
        while blocks and blocks[-1][0] > mean:
            last_mean, last_count = blocks.pop()
            mean = (mean * count + last_mean * last_count) / (count + last_count)
            count += last_count
        blocks.append((mean, count))
    flat = [mean for mean, count in blocks for _ in range(count)]
    return [float(place + offset) for place, offset in zip(flat, offsets, strict=True)]


def _push_out(label: Label, outward: np.ndarray, boxes: Sequence[Box]) -> Label:
    """Move a label outward until it is clear of all boxes."""
    text = label.text
    for step in range(TRIES):
        if clear_of(text.box, boxes):
            return Label(text, label.toe, label.is_moved or step > 0)
        text = _moved(text, np.asarray(text.centre) + outward * text.size / 2)
    return Label(text, label.toe, is_moved=True)


def _moved(text: Text, centre: np.ndarray) -> Text:
    return Text(
        text.words,
        (float(centre[0]), float(centre[1])),
        text.size,
        text.colour,
        text.is_upright,
        text.plate,
    )


def tag_place(
    words: str,
    near: Point,
    outward: Sequence[float],
    *,
    size: int,
    taken: Sequence[Box],
    within: tuple[int, int],
) -> Point:
    """Find a free place for a tag near a point, first in the direction given.

    Parameters
    ----------
    words : str
    near : Point
    outward : sequence of float
        Direction (x, y) to try first.
    size : int
    taken : sequence of Box
    within : tuple of int
        Width and height of the picture the tag must stay in.

    Returns
    -------
    Point
        Middle of the tag; the nearest place tried if none is free.
    """
    first = float(np.arctan2(outward[1], outward[0]))
    best: Point | None = None
    for reach in (2.2, 3.2, 4.5, 6.0, 8.0, 11.0):
        for turn in (0, 25, -25, 50, -50, 80, -80, 120, -120, 160):
            angle = first + np.radians(turn)
            way = np.array([np.cos(angle), np.sin(angle)])
            probe = Text(words, (0.0, 0.0), size, plate=PAPER)
            centre = np.asarray(near) + way * (reach * size) + way * _extent(probe) / 2
            box = _moved(probe, centre).box
            inside = (
                box[0] > 4
                and box[1] > 4
                and box[2] < within[0] - 4
                and box[3] < within[1] - 4
            )
            place = (float(centre[0]), float(centre[1]))
            if inside and clear_of(box, taken):
                return place
            if inside and best is None:
                best = place
    return best or _pulled_in(words, near, size, within)


def _pulled_in(words: str, near: Point, size: int, within: tuple[int, int]) -> Point:
    """Give the place nearest to a point at which a tag is inside the picture."""
    half = _extent(Text(words, (0.0, 0.0), size, plate=PAPER)) / 2 + 4
    room = np.maximum(np.asarray(within, float) - half, half)
    x, y = np.clip(np.asarray(near, float), half, room)
    return float(x), float(y)
