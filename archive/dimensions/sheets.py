"""Sheets: what a person writes to have sizes worked out from a photo, read and checked as a whole.

A sheet is TOML: `method`, `photo`, the marks, what is known and what is asked. Every fault in it is found and named
by its key before anything is looked up; what is left is a `Sheet`, of which the recipe is the part that is kept.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from archive.errors import LengthNotUnderstood, SheetNotUnderstood
from archive.lengths import WrittenLength, parse_length
from archive.records.names import clean_name, name_key, near_names

KnownForm = Literal["span", "plain", "position", "place"]
AskedForm = Literal["span", "wheels"]

IN_THE_PLANE, NOT_SURE = "in the plane", "not sure"
CLEARNESS = ("crisp", "plain", "worn")
SnapTo = Literal["corner", "edge"]
SNAPS: tuple[SnapTo, ...] = ("corner", "edge")
FACES = ("left", "right", "up", "down")
BETWEEN_CENTRES, SECOND_DIAMETER = "between centres", "second diameter"
_MOST_MARKS = 2000


@dataclass(frozen=True, slots=True)
class Method:
    """One way to work sizes out from a photo: what its sheet holds, and what it is called in a size's source."""

    name: str
    rests_on: str
    known: KnownForm | None
    counts: tuple[int, int | None]  # least and most known sizes
    asked: AskedForm | None = "span"
    roles: tuple[str, ...] = ()  # keys that name its marks, all needed
    may_have: tuple[str, ...] = ()


_METHODS = (
    Method("square on", "proportion in a photo taken square-on", "span", (1, 1), may_have=("tilt_deg",)),
    Method("rectangle", "a known rectangle in the photo", "span", (2, 2), roles=("corners",)),
    Method("one side", "one side of a rectangle in the photo", "span", (1, 1), roles=("corners",)),
    Method("points", "known points of a plane in the photo", "place", (4, None)),
    Method("edge", "known places along an edge in the photo", "position", (3, None)),
    Method("row", "a row of equal steps in the photo", "span", (1, 1), roles=("row",)),
    Method("parallel edge", "an edge and a parallel one in the photo", "span", (1, 1), roles=("edge", "parallel")),
    Method("heights", "a known height on the same ground", "span", (1, 1), roles=("level", "upright")),
    Method("circle", "a circle of known diameter in the photo", "plain", (1, 1), roles=("rim",), may_have=("faces",)),
    Method("wheels", "two wheels in one plane in the photo", "plain", (1, 1), "wheels", roles=("first", "second")),
    Method("distance", "the distance it was taken from", "plain", (1, 1)),
    Method("lens", "straight edges in the photo", None, (0, 0), None, roles=("edges",)),
)  # fmt: skip
METHODS: Mapping[str, Method] = {method.name: method for method in _METHODS}

# How many marks each role takes, and how deep its lists lie.
_FLAT = {"corners": (4, 4), "edge": (3, None), "parallel": (2, 2), "rim": (5, None), "first": (5, None), "second": (5, None)}  # fmt: skip
_EVERY_SHEET = ("method", "photo", "subject", "marks", "known", "asked", "camera", "straight")


@dataclass(frozen=True, slots=True)
class SheetMark:
    """A mark as a person puts it; `clear` is 'crisp', 'plain' or 'worn', `snap` to what it is to be moved."""

    name: str
    x_px: float
    y_px: float
    clear: str = "plain"
    snap: SnapTo | None = None


@dataclass(frozen=True, slots=True)
class NamedSize:
    """A size of the archive by the names that a sheet gives."""

    subject: str
    label: str
    span: str | None
    state: str | None


@dataclass(frozen=True, slots=True)
class AskedSize:
    """A size that a sheet asks for."""

    subject: str
    label: str
    span: str
    state: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet that makes sense by itself. `recipe` holds its sums: `known`, `asked` and the method's own marks.

    `inputs` are the known sizes that are sizes of the archive, by the number that the recipe calls them.
    """

    method: Method
    photo: str
    marks: tuple[SheetMark, ...]
    recipe: Mapping[str, Any]
    inputs: tuple[NamedSize, ...]
    asked: tuple[AskedSize, ...]


@dataclass(frozen=True, slots=True)
class WrittenLies:
    """Where an asked size lies, as written: `towards_camera` is +1, -1 or 0; `within` is a limit of 'not sure'."""

    towards_camera: int
    length: WrittenLength | None = None
    sure: bool = True


def read_sheet(text: str, name: str) -> Sheet:
    """Read a sheet; `name` is what the person calls it.

    Raises
    ------
    SheetNotUnderstood
        With every fault in it, each with the line or the key where it stands.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SheetNotUnderstood(name, (_line_of(str(error)),)) from error
    return _Reading(document, name).sheet()


def parse_lies(text: str) -> WrittenLies:
    """Read where a size lies: 'in the plane', 'set back 62 mm', 'standing out 30 mm', 'not sure', 'not sure within 20 mm'.

    Raises `ValueError` with what to write instead, or `LengthNotUnderstood`.
    """
    words = " ".join(text.split())
    if words == IN_THE_PLANE:
        return WrittenLies(0)
    if words == NOT_SURE:
        return WrittenLies(0, sure=False)
    for start, towards, sure in (
        ("set back ", -1, True),
        ("standing out ", 1, True),
        ("not sure within ", 0, False),
    ):
        if words.startswith(start):
            return WrittenLies(towards, parse_length(words.removeprefix(start)), sure)
    raise ValueError(
        f"'{text}' does not say where it lies; write 'in the plane', 'set back 62 mm', 'standing out 30 mm' or 'not sure'"
    )


def _line_of(problem: str) -> str:
    place = re.search(r"\(at line (\d+), column (\d+)\)", problem)
    what = re.sub(r"\s*\(at .*\)", "", problem)
    where = f"line {place[1]}, column {place[2]}" if place else "its end"
    return f"{where}: from here on it cannot be read ({what}); look for a quote or a bracket that is not closed, or a missing ="


class _Reading:
    """One sheet being read; faults are gathered, so that all of them are told at once."""

    def __init__(self, document: Mapping[str, Any], name: str) -> None:
        self._document, self._name = document, name
        self._faults: list[str] = []
        self._inputs: list[NamedSize] = []

    def sheet(self) -> Sheet:
        method = self._method()
        self._unknown_keys("", self._document, (*_EVERY_SHEET, *method.roles, *method.may_have))
        photo = self._text("photo", self._document.get("photo"), "the file name of the photo") or ""
        marks = self._marks()
        recipe: dict[str, Any] = {role: self._role(role) for role in method.roles}
        for key in method.may_have:
            if key in self._document:
                recipe[key] = self._option(key, self._document[key])
        if "camera" in self._document:
            recipe["camera"] = self._camera(self._document["camera"])
        if "straight" in self._document:
            recipe["straight"] = self._edges("straight", self._document["straight"], least=3)
        recipe["known"] = [self._known(method, n, each) for n, each in enumerate(self._tables("known"), 1)]
        self._count_known(method, len(recipe["known"]))
        asked = [self._asked(method, n, each) for n, each in enumerate(self._tables("asked"), 1)]
        if method.asked is not None and not asked:
            self._fault("asked", "nothing is asked; add [[asked]] with from, to and label")
        if method.asked is None and asked:
            self._fault("asked", f"the method '{method.name}' finds no sizes; leave [[asked]] off")
        recipe["asked"] = [part for part, _ in asked]
        if self._faults:
            raise SheetNotUnderstood(self._name, tuple(self._faults))
        return Sheet(method, photo, marks, recipe, tuple(self._inputs), tuple(size for _, size in asked))

    def _method(self) -> Method:
        named = self._document.get("method")
        if not isinstance(named, str) or named not in METHODS:
            near = near_names(str(named), METHODS) or tuple(METHODS)
            what = "no method is named" if named is None else f"'{named}' is no method"
            # Without the method no other key can be judged.
            raise SheetNotUnderstood(self._name, (f"method: {what}; write one of: {', '.join(near)}",))
        return METHODS[named]

    def _marks(self) -> tuple[SheetMark, ...]:
        table = self._document.get("marks", {})
        if not isinstance(table, Mapping):
            self._fault(
                "marks", "write [marks] and below it lines such as 'door foot' = [812.5, 1604, 'crisp']"
            )
            return ()
        if len(table) > _MOST_MARKS:
            self._fault("marks", f"there are {len(table)} marks; a sheet takes up to {_MOST_MARKS}")
            return ()
        found: dict[str, SheetMark] = {}
        for name, value in table.items():
            mark = self._mark(clean_name(name), value)
            if mark is None:
                continue
            if name_key(name) in found:
                self._fault(f"marks, '{name}'", "two marks have this name; rename one of them")
            found[name_key(name)] = mark
        return tuple(found.values())

    def _mark(self, name: str, value: Any) -> SheetMark | None:
        """A mark from [x, y] with how clear it is and to what it is to be moved, each if one likes."""
        numbers, words = (value[:2], value[2:]) if isinstance(value, list) else ([], [])
        clear = [word for word in words if word in CLEARNESS]
        snap = [word for word in words if word in SNAPS]
        right = (
            len(numbers) == 2
            and all(_is_number(each) for each in numbers)
            and len(clear) <= 1
            and len(snap) <= 1
            and len(clear) + len(snap) == len(words)
        )
        if not name or not right:
            self._fault(f"marks, '{name}'", _MARK_HELP)
            return None
        x_px, y_px = (float(each) for each in numbers)
        return SheetMark(name, x_px, y_px, *(clear or ["plain"]), *snap)

    def _role(self, role: str) -> Any:
        value = self._document.get(role)
        if value is None:
            self._fault(role, f"this is missing: {_ROLE_HELP[role]}")
            return []
        if role == "row":
            return self._row(value)
        if role == "level":
            if not isinstance(value, list) or len(value) != 2:
                self._fault(role, _ROLE_HELP[role])
                return [[], []]
            return [self._edges(role, each, least=2, most=2) for each in value]
        if role == "upright":
            return self._edges(role, value, least=2, most=2)
        if role == "edges":
            return self._edges(role, value, least=3)
        least, most = _FLAT[role]
        return self._names(role, value, least, most)

    def _row(self, value: Any) -> dict[str, int]:
        """Things of a row by the names of their marks, numbered from 0 where they are simply listed."""
        if isinstance(value, Mapping) and all(
            isinstance(n, int) and not isinstance(n, bool) for n in value.values()
        ):
            return {clean_name(name): n for name, n in value.items()}
        return {name: n for n, name in enumerate(self._names("row", value, 3, None))}

    def _edges(self, key: str, value: Any, *, least: int, most: int | None = None) -> list[list[str]]:
        if not isinstance(value, list) or not value:
            self._fault(key, _ROLE_HELP[key])
            return []
        return [self._names(key, each, least, most) for each in value]

    def _names(self, key: str, value: Any, least: int, most: int | None) -> list[str]:
        if not isinstance(value, list) or not all(isinstance(name, str) for name in value):
            self._fault(key, _ROLE_HELP[key])
            return []
        if len(value) < least or (most is not None and len(value) > most):
            wanted = str(least) if most == least else f"at least {least}"
            self._fault(key, f"there are {len(value)} marks where {wanted} are needed; {_ROLE_HELP[key]}")
        return [clean_name(name) for name in value]

    def _option(self, key: str, value: Any) -> Any:
        if key == "tilt_deg" and (not _is_number(value) or not 0 <= value < 90):
            self._fault(
                key, "write by how many degrees you may have stood out of square: 3 with care, 10 without"
            )
        if key == "faces" and value not in FACES:
            self._fault(key, f"write which way the circle's face looks in the photo: {', '.join(FACES)}")
        return value

    def _camera(self, value: Any) -> dict[str, Any]:
        how = "write focal_35mm = 26, or right_angle = two lists of level edges at a right angle"
        if not isinstance(value, Mapping) or len(value) != 1:
            self._fault("camera", how)
            return {}
        if "focal_35mm" in value:
            if not _is_number(value["focal_35mm"]) or not 0 < value["focal_35mm"] <= 2000:
                self._fault("camera, focal_35mm", "write the focal length as a 35 mm equivalent, such as 26")
            return {"focal_35mm": value["focal_35mm"]}
        pairs = value.get("right_angle")
        if not isinstance(pairs, list) or len(pairs) != 2:
            self._fault("camera", how)
            return {}
        return {"right_angle": [self._edges("right_angle", each, least=2, most=2) for each in pairs]}

    def _known(self, method: Method, number: int, table: Mapping[str, Any]) -> dict[str, Any]:
        where = f"[[known]] {number}"
        form = method.known or "plain"
        ends = {"span": ("from", "to"), "plain": (), "position": ("point", "at"), "place": ("point", "at")}[
            form
        ]
        measured = ("size", "dimension", "subject", "span", "state") if form in ("span", "plain") else ()
        self._unknown_keys(where, table, (*ends, *measured))
        if form in ("position", "place"):
            point = self._text(f"{where}, point", table.get("point"), "the name of a mark")
            return {"point": point, "at": self._at(where, table.get("at"), 2 if form == "place" else 1)}
        part = {end: self._text(f"{where}, {end}", table.get(end), "the name of a mark") for end in ends}
        return {**part, **self._size(where, table)}

    def _size(self, where: str, table: Mapping[str, Any]) -> dict[str, Any]:
        if ("size" in table) == ("dimension" in table):
            self._fault(
                where, "write either size = '6ft 2in' or dimension = 'door height', a size of the archive"
            )
            return {}
        if "size" in table:
            return {"size": self._length(f"{where}, size", table["size"])}
        label = self._text(f"{where}, dimension", table["dimension"], "the label of a size in the archive")
        subject = self._text(
            f"{where}, subject", table.get("subject", self._document.get("subject")), "whose size it is"
        )
        self._inputs.append(NamedSize(subject or "", label or "", table.get("span"), table.get("state")))
        return {"input": len(self._inputs) - 1}

    def _at(self, where: str, value: Any, count: int) -> list[str | None] | str | None:
        if count == 1:
            return self._length(f"{where}, at", value, least=None)
        if not isinstance(value, list) or len(value) != count:
            self._fault(
                f"{where}, at", "write its place in the plane, across and up, such as ['0 mm', '1200 mm']"
            )
            return None
        return [self._length(f"{where}, at", each, least=None) for each in value]

    def _asked(
        self, method: Method, number: int, table: Mapping[str, Any]
    ) -> tuple[dict[str, Any], AskedSize]:
        where = f"[[asked]] {number}"
        own = ("what",) if method.asked == "wheels" else ("from", "to", "lies")
        self._unknown_keys(where, table, (*own, "subject", "label", "span", "state"))
        part: dict[str, Any]
        if method.asked == "wheels":
            part = {"what": table.get("what", BETWEEN_CENTRES)}
            if part["what"] not in (BETWEEN_CENTRES, SECOND_DIAMETER):
                self._fault(f"{where}, what", f"write '{BETWEEN_CENTRES}' or '{SECOND_DIAMETER}'")
        else:
            part = {
                end: self._text(f"{where}, {end}", table.get(end), "the name of a mark")
                for end in ("from", "to")
            }
            part["lies"] = self._lies(f"{where}, lies", table.get("lies", NOT_SURE))
        subject = self._text(
            f"{where}, subject", table.get("subject", self._document.get("subject")), "whose size it is"
        )
        label = self._text(f"{where}, label", table.get("label"), "what is measured, such as 'door height'")
        span, state = table.get("span", "plain"), table.get("state", "as found")
        return part, AskedSize(subject or "", clean_name(label or ""), str(span), str(state))

    def _lies(self, where: str, value: Any) -> str:
        try:
            parse_lies(str(value))
        except (ValueError, LengthNotUnderstood) as error:
            self._fault(where, str(error))
        return str(value)

    def _length(self, where: str, value: Any, least: float | None = 0.0) -> str | None:
        text = self._text(where, value, "a length with its unit, such as '6ft 2in' or '1880 mm'")
        if text is None:
            return None
        try:
            written = parse_length(text)
        except LengthNotUnderstood as error:
            self._fault(where, str(error))
            return None
        if least is not None and written.value_mm <= least:
            self._fault(where, f"'{text}' is no length that something could have")
        return text

    def _text(self, where: str, value: Any, what: str) -> str | None:
        if isinstance(value, str) and value.strip():
            return value
        self._fault(where, f"write {what}, in quotes" if value is not None else f"this is missing: {what}")
        return None

    def _tables(self, key: str) -> Sequence[Mapping[str, Any]]:
        value = self._document.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, Mapping) for each in value):
            self._fault(key, f"write [[{key}]], in double brackets, for each of them")
            return []
        return value

    def _count_known(self, method: Method, count: int) -> None:
        least, most = method.counts
        if count < least or (most is not None and count > most):
            wanted = f"exactly {least}" if most == least else f"at least {least}"
            self._fault("known", f"there are {count} [[known]] and the method '{method.name}' takes {wanted}")

    def _unknown_keys(self, where: str, table: Mapping[str, Any], allowed: Sequence[str]) -> None:
        for key in table:
            if key not in allowed:
                near = near_names(key, allowed, most=1)
                hint = f"do you mean '{near[0]}'?" if near else f"it takes {', '.join(allowed)}"
                self._fault(f"{where}, {key}" if where else key, f"this key means nothing here; {hint}")

    def _fault(self, where: str, what: str) -> None:
        self._faults.append(f"{where}: {what}")


_MARK_HELP = (
    "write x and y in pixels, and if you like how clear it is (crisp, plain, worn) and whether it is to be moved to the "
    "corner or edge near it: [812.5, 1604, 'crisp', 'corner']"
)
_ROLE_HELP = {
    "corners": "list the four corners in the order in which one walks round: ['a', 'b', 'c', 'd']",
    "row": "list the same place on things of the row, in order; or number them: {'a' = 0, 'b' = 1, 'e' = 4}",
    "edge": "list three and more marks on one straight edge",
    "parallel": "name two marks on another edge that is parallel in the real thing",
    "level": "give level edges of two directions: [[['a', 'b'], ['c', 'd']], [['e', 'f'], ['g', 'h']]]",
    "upright": "give two and more upright edges: [['a', 'b'], ['c', 'd']]",
    "rim": "list eight to twelve marks round the rim (five at least)",
    "first": "list eight to twelve marks round the rim of the wheel whose diameter is known",
    "second": "list eight to twelve marks round the rim of the other wheel",
    "edges": "give three and more straight edges, five marks along each: [['a', 'b', 'c', 'd', 'e'], ...]",
    "straight": "give edges that are straight in the real thing, three marks and more along each",
    "right_angle": "give each direction two and more level edges: [['a', 'b'], ['c', 'd']]",
}


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9
