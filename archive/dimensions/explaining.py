"""How a reading came about, in plain words: what was read or marked, what was known, where its doubt comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from archive import wording
from archive.dimensions.doubts import doubt_in_words
from archive.dimensions.sheets import METHODS
from archive.dimensions.sums import METHOD as SUM
from archive.dimensions.trust import Tools
from archive.errors import NotAccepted, RecordNotFound
from archive.metrology.coverage import interval_95
from archive.metrology.sources import Doubtful
from archive.records import marks, photos, recipes, sizes, subjects
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.ledgers import reading_ledgers
from archive.records.names import name_key
from archive.records.things import Derivation, Dimension, Photo, PhotoMark, Reading, Warned
from archive.scales import Scale

if TYPE_CHECKING:
    from archive.dimensions.methods import KnownPlane
    from archive.photogrammetry.lens import Lens

_WEIGHTY = 0.05  # share of the doubt from which a mark is named


@dataclass(frozen=True, slots=True)
class Stretch:
    """A length on the photo, between two of its marks, with what it is known or found to be."""

    start: str
    end: str
    text: str
    is_asked: bool


@dataclass(frozen=True, slots=True)
class Explanation:
    """How a reading came about. `sentences` tell it; the rest is for a picture and for programs.

    `photo` is None where none shows it or it was taken out; `marks` are those that the recipe uses.
    """

    reading: Reading
    dimension: Dimension
    known: Doubtful
    interval_95: tuple[float, float]
    sentences: tuple[str, ...]
    doubt: str
    warnings: tuple[Warned, ...]
    derivation: Derivation | None
    photo: Photo | None
    marks: tuple[PhotoMark, ...]
    stretches: tuple[Stretch, ...]
    plane: KnownPlane | None
    lens: Lens | None
    model_text: str | None


def explain(
    archive: Archive, reading: str, label: str | None = None, *, scale: Scale | None = None
) -> Explanation:
    """Explain the reading of this id, or of the size `label` of the subject `reading`.

    Of several readings of a size the one that was worked out is meant.

    Raises
    ------
    RecordNotFound, NotAccepted
        There is no such reading, or more than one may be meant.
    """
    with archive.look() as look:
        found = _reading_named(look, reading) if label is None else _reading_of(look, reading, label)
        (dimension,) = sizes.dimensions_by_key(look, [found.dimension_key])
        known = reading_ledgers(look, [found.key])[found.key]
        if found.derived_by is None:
            return _of_a_reading(look, found, dimension, known, scale)
        derivation = recipes.derivation_named(look, found.derived_by)
        if derivation.method == SUM:
            return _of_a_sum(look, found, dimension, known, derivation, scale)
        return _Derived(look, found, dimension, known, derivation, scale).explanation()


def _reading_named(look: Look, reading: str) -> Reading:
    subject = subjects.find_subject(look, reading)
    if subject is not None:
        raise NotAccepted(
            f"'{subject.name}' is a subject, and it was not said which of its sizes is meant",
            f"'rivetbook sizes \"{subject.name}\"' shows them; write the label of one after the subject.",
        )
    return sizes.reading_named(look, reading)


def _reading_of(look: Look, subject: str, label: str) -> Reading:
    found = sizes.dimensions_labelled(look, subjects.subject_named(look, subject), label)
    held = sizes.readings_of(look, found)
    counting = [r for d in found for r in held.get(d.key, []) if r.stands]
    meant = [r for r in counting if r.derived_by is not None] or counting
    if not meant:
        raise RecordNotFound(f"reading that counts of '{label}' of {found[0].subject}", label)
    if len(meant) > 1:
        listed = "; ".join(f"{r.id} ('{r.as_written}')" for r in meant)
        raise NotAccepted(
            f"'{label}' of {found[0].subject} has {len(meant)} readings that may be meant",
            f"Name one by its id: {listed}.",
        )
    return meant[0]


def _of_a_reading(
    look: Look, reading: Reading, dimension: Dimension, known: Doubtful, scale: Scale | None
) -> Explanation:
    interval = interval_95(known)
    how = [f"{_name(dimension)}: '{reading.as_written}', {wording.grade(reading.grade)}"]
    how += [f"with {reading.instrument}"] if reading.instrument else []
    how += [f"from {reading.rests_on}"] if reading.rests_on else []
    how += [f"on {reading.taken_on}"] if reading.taken_on else []
    sentences = [f"{', '.join(how)}."]
    if reading.photo:
        sentences.append(f"{reading.photo} shows it.")
    shown = wording.size(reading.quantity, known.value, interval)
    sentences.append(f"By itself it says {shown}{_in_feet(reading.quantity, known.value, interval)}.")
    photo = photos.photos_by_key(look, [reading.photo_key])[0] if reading.photo_key is not None else None
    doubt = doubt_in_words(known, Tools(look))
    return Explanation(
        reading, dimension, known, interval, tuple(sentences), doubt, (), None, photo, (), (), None, None,
        _on_the_model(reading.quantity, known.value, interval, scale),
    )  # fmt: skip


def _of_a_sum(
    look: Look,
    reading: Reading,
    dimension: Dimension,
    known: Doubtful,
    derivation: Derivation,
    scale: Scale | None,
) -> Explanation:
    (result,) = derivation.results
    low, high = result["interval_95"]
    interval = (low, high)
    shown = wording.size(reading.quantity, known.value, interval)
    feet = _in_feet(reading.quantity, known.value, interval)
    sentences = [f"{_name(dimension)}: {shown}{feet}, worked out.", f"It is {reading.as_written}."]
    keys = [key for key in derivation.input_keys.values() if key is not None]
    sentences += [f"Known: {_size_in_words(look, key)}." for key in dict.fromkeys(keys)]
    sentences += _stale_in_words(result)
    warnings = tuple(Warned(w["code"], w["message"]) for w in result["warnings"])
    doubt = doubt_in_words(known, Tools(look))
    model = _on_the_model(reading.quantity, known.value, interval, scale)
    return Explanation(
        reading,
        dimension,
        known,
        interval,
        tuple(sentences),
        doubt,
        warnings,
        derivation,
        None,
        (),
        (),
        None,
        None,
        model,
    )


class _Derived:
    """A reading that was worked out from a photo being explained from its recipe as it stands."""

    def __init__(
        self,
        look: Look,
        reading: Reading,
        dimension: Dimension,
        known: Doubtful,
        derivation: Derivation,
        scale: Scale | None,
    ) -> None:
        self._look, self._reading, self._dimension, self._known = look, reading, dimension, known
        self._derivation, self._scale = derivation, scale
        self._recipe = self._derivation.recipe
        self._result = next(r for r in self._derivation.results if r["reading"] == reading.id)
        self._asked = next(part for part in self._recipe["asked"] if part["reading"] == reading.id)
        key = self._derivation.photo_key
        self._photo = photos.photos_by_key(look, [key])[0] if key is not None else None
        self._held = marks.marks_by_name(look, key) if key is not None else {}

    def explanation(self) -> Explanation:
        low, high = self._result["interval_95_mm"]
        interval = (low, high)
        used = self._marks_used()
        return Explanation(
            reading=self._reading,
            dimension=self._dimension,
            known=self._known,
            interval_95=interval,
            sentences=tuple(self._sentences(interval)),
            doubt=doubt_in_words(self._known, Tools(self._look)),
            warnings=tuple(Warned(w["code"], w["message"]) for w in self._result["warnings"]),
            derivation=self._derivation,
            photo=self._photo,
            marks=tuple(used),
            stretches=tuple(self._stretches(interval)),
            plane=self._plane() if self._photo and self._result["why"] is None else None,
            lens=self._lens(),
            model_text=_on_the_model("length", self._known.value, interval, self._scale),
        )

    def _marks_used(self) -> list[PhotoMark]:
        from archive.dimensions.methods import marks_named

        names = [name_key(name) for name in marks_named({**self._recipe, "asked": [self._asked]})]
        return [self._held[name] for name in names if name in self._held]

    def _sentences(self, interval: tuple[float, float]) -> list[str]:
        value = self._known.value
        shown = wording.size("length", value, interval)
        told = [f"{_name(self._dimension)}: {shown}{_in_feet('length', value, interval)}, worked out."]
        from_photo = self._derivation.photo or "a photo that was taken out since"
        told.append(f"From {from_photo}, by {METHODS[self._derivation.method].rests_on}.")
        told += [f"Known: {text}." for text in self._known_in_words()]
        told.append(f"Asked: {self._asked_in_words()}.")
        told += self._camera_in_words()
        if self._result["method"] == "monte carlo":
            told.append("Its doubt was found by 20 000 random draws, for the plain sums would not do.")
        told += self._marks_in_words()
        return told + _stale_in_words(self._result)

    def _known_in_words(self) -> list[str]:
        """Each known size; places along an edge or in a plane together."""
        parts = self._recipe["known"]
        if parts and "at" in parts[0]:
            places = [part["at"] if isinstance(part["at"], str) else " / ".join(part["at"]) for part in parts]
            return [", ".join(f"'{p['point']}' at {at}" for p, at in zip(parts, places, strict=True))]
        return [f"{self._size_in_words(part)}{',' * ('from' in part)}{_between(part)}" for part in parts]

    def _size_in_words(self, part: Mapping[str, Any]) -> str:
        if "size" in part:
            return f"'{part['size']}', as the sheet says"
        return _size_in_words(self._look, self._derivation.input_keys.get(part["input"]))

    def _asked_in_words(self) -> str:
        if "what" in self._asked:
            return {"between centres": "the distance of the wheels' centres"}.get(
                self._asked["what"], "the second diameter"
            )
        lies = self._asked["lies"]
        return f"the length{_between(self._asked)}, {'nobody said where it lies' if lies.startswith('not sure') else lies}"

    def _camera_in_words(self) -> list[str]:
        told = []
        kinds = {source.kind for source in self._known.sensitivities}
        if "focal length" in kinds or ("mark" in kinds and "right_angle" in self._recipe.get("camera", {})):
            said = self._recipe.get("camera", {})
            if "right_angle" in said:
                told.append("The focal length was found from edges of two directions at a right angle.")
            elif "focal_35mm" in said:
                told.append(f"The focal length is the sheet's, {said['focal_35mm']:g} mm as on 35 mm film.")
            elif self._photo is not None and self._photo.focal_35mm:
                told.append(
                    f"The focal length is the photo's own, {self._photo.focal_35mm:g} mm as on 35 mm film."
                )
            elif self._photo is not None and self._photo.focal_mm and self._photo.sensor_px_per_mm:
                told.append(
                    f"The focal length is the photo's own, {self._photo.focal_mm:g} mm, with the resolution of the sensor."
                )
        if self._photo is not None:
            kept = recipes.lens_for(self._look, self._photo)
            if kept is not None:
                by = recipes.derivation_named(self._look, kept.derivation)
                told.append(
                    f"The lens's distortion was taken out, as it was found from {by.photo or 'a photo that was taken out since'}."
                )
        return told

    def _marks_in_words(self) -> list[str]:
        """The marks to which most of the doubt is owed: those to place better first."""
        names = {mark.id: mark.name for mark in self._held.values()}
        shares: dict[str, float] = {}
        for source, share in self._known.shares():
            if source.kind == "mark" and source.of_record in names:
                shares[names[source.of_record]] = shares.get(names[source.of_record], 0.0) + share
        weighty = sorted(
            ((share, name) for name, share in shares.items() if share >= _WEIGHTY), reverse=True
        )[:4]
        if not weighty:
            return []
        listed = ", ".join(f"'{name}' {100 * share:.0f} %" for share, name in weighty)
        return [f"The marks that matter most: {listed}. Placing these better makes it surer."]

    def _stretches(self, interval: tuple[float, float]) -> list[Stretch]:
        known = [
            Stretch(part["from"], part["to"], self._short(part), False)
            for part in self._recipe["known"]
            if "from" in part
        ]
        if "from" not in self._asked:
            return known
        text = wording.size("length", self._known.value, interval)
        return [*known, Stretch(self._asked["from"], self._asked["to"], text, True)]

    def _short(self, part: Mapping[str, Any]) -> str:
        return str(part["size"]) if "size" in part else self._size_in_words(part).rpartition(", ")[2]

    def _plane(self) -> KnownPlane | None:
        from archive.dimensions.solving import known_plane

        return known_plane(self._look, self._derivation, self._result["diagnostics"])

    def _lens(self) -> Lens | None:
        if self._photo is None:
            return None
        kept = recipes.lens_for(self._look, self._photo)
        if kept is None:
            return None
        from archive.dimensions.cameras import upright_lens

        return upright_lens(kept, self._photo)


def _size_in_words(look: Look, key: int | None) -> str:
    found = sizes.dimensions_by_key(look, [key]) if key is not None else []
    if not found:
        return "a size that was taken out since"
    best = sizes.estimates_of(look, found).get(found[0].key)
    if best is None:
        return f"{_name(found[0])}, no figure"
    return f"{_name(found[0])}, {wording.size(best.quantity, best.value, (best.low_95, best.high_95))}"


def _stale_in_words(result: Mapping[str, Any]) -> list[str]:
    if result["why"] is None:
        return []
    return [f"It no longer solves, and this is the last figure that did: {result['why']}"]


def _name(dimension: Dimension) -> str:
    return f"{dimension.label} of {dimension.subject}"


def _between(part: Mapping[str, Any]) -> str:
    return f" from '{part['from']}' to '{part['to']}'" if "from" in part else ""


def _in_feet(quantity: str, value: float, interval: tuple[float, float]) -> str:
    other = wording.other_system(quantity, value, interval)
    return f" ({other})" if other else ""


def _on_the_model(
    quantity: str, value: float, interval: tuple[float, float], scale: Scale | None
) -> str | None:
    if scale is None or quantity != "length":
        return None
    return wording.model_size(value, interval, scale)
