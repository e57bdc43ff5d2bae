"""Every command of the command line with words that it takes, each marked with what it names.

Whoever adds a command or an option adds it here: a test compares this list with the commands themselves.
From the marks follow the bad words that each command must refuse.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import click
from doors.basin import CHECK_ID, READING_ID

from archive.cli import main


@dataclass(frozen=True)
class Named:
    """A word of a command line, and what sort of thing it names or says."""

    text: str
    sort: str


def subject(text: str = "Wharf crane") -> Named:
    return Named(text, "subject")


def photo(text: str = "HC20_0415") -> Named:
    return Named(text, "photo")


def visit(text: str = "Wendle Basin, June") -> Named:
    return Named(text, "visit")


def new_name(text: str, sort: str) -> Named:
    return Named(text, f"new {sort}")


def length(text: str) -> Named:
    return Named(text, "length")


TAPE, BUILD = Named("long tape", "instrument"), Named("Crane in 7 mm", "build")
SPAN, READING = Named("over", "span"), Named(READING_ID, "reading")
LINES, ACT = Named("crane.txt", "file"), Named("7", "act")
SCALE, DAY, KIND = Named("1:43.5", "scale"), Named("2023-06-17", "day"), Named("crane", "kind")
SEARCH = Named("Cranes", "kept search")
REGION = Named("10,8 to 60%,50%", "region")
DURATION, CAMERA = Named("1h07m", "duration"), Named("Halden C20", "camera of the visit")
VIEW, ZONE = Named("front", "view"), Named("Europe/London", "zone")

Words = tuple[str | Named, ...]


@dataclass(frozen=True)
class Usage:
    """Ways to call a command that succeed on the sample archive, together with all its options."""

    words: Words
    writes: bool = False  # into the archive
    needs_archive: bool = True
    others: tuple[Words, ...] = ()  # where some options exclude others

    @property
    def all_words(self) -> tuple[Words, ...]:
        return (self.words, *self.others)


USAGES: dict[str, Usage] = {
    "new": Usage((Named("a new one", "folder to make"),), needs_archive=False),
    "demo": Usage((Named("the demonstration", "folder to make"),), needs_archive=False),
    "import": Usage((Named("card", "given"), "--visit", Named("Wendle Basin, June", "visit or new"), "--without-films", "--pages", Named("1,3-5", "pages"), "--taken-out-too"), writes=True),
    "photos": Usage(("--visit", visit(), "--unlinked"), others=(("--alike",),)),
    "visit add": Usage(
        (new_name("Wendle Basin, May", "visit"), "--place", "Wendle Basin", "--on", DAY, "--zone", ZONE,
         "--people", "the warden", "--access", "by the gate"),
        writes=True,
    ),
    "visit show": Usage((visit(),)),
    "visit list": Usage(()),
    "visit rename": Usage((visit(), new_name("First trip", "name of the visit"), "--keep-old"), writes=True),
    "visit amend": Usage(
        (visit(), "--place", "the quay", "--on", DAY, "--zone", ZONE, "--people", "the warden", "--access", ""),
        writes=True,
    ),
    "visit clock": Usage(
        (visit(), "--camera", CAMERA, "--ahead", DURATION), writes=True,
        others=((visit(), "--behind", DURATION), (visit(), "--same-moment", photo(), "11:05:30")),
    ),
    "visit merge": Usage((visit("Wendle Basin, September"), "--into", visit()), writes=True),
    "subject add": Usage(
        (new_name("Quay lamp", "subject"), "--kind", KIND, "--also", "gas lamp", "--part-of", subject(),
         "--place", "Wendle Basin", "--maker", "Harrow & Sleight", "--numbers", "7", "--era", "1868", "--notes", "leans"),
        writes=True,
    ),
    "subject show": Usage((subject(),)),
    "subject list": Usage(()),
    "subject rename": Usage((subject(), new_name("Lower crane", "name of it"), "--keep-old"), writes=True),
    "subject amend": Usage(
        (subject(), "--kind", KIND, "--also", new_name("Hand crane", "other name"), "--no-longer", Named("big crane", "other name"),
         "--part-of", subject("Lock gate"), "--place", "the quay", "--maker", "Tarn Foundry", "--numbers", "3",
         "--era", "1868", "--notes", ""),
        writes=True,
    ),
    "subject merge": Usage((subject("Lock gate"), "--into", subject()), writes=True),
    "subject split": Usage(
        (subject(), "--into", new_name("Jib", "subject"), "--size", Named("jib length", "size of the subject"), "--photo", photo()),
        writes=True,
    ),
    "subject remove": Usage((subject("Lock gate"),), writes=True),
    "link": Usage((photo(), "--to", subject(), "--view", VIEW, "--mirrored", "--region", REGION), writes=True),
    "unlink": Usage((photo(), "--from", subject()), writes=True),
    "photo show": Usage((photo(),)),
    "photo move": Usage((photo(), "--to", visit("Wendle Basin, September")), writes=True),
    "photo amend": Usage((photo(), "--caption", "The jib", "--creator", "R. Sleight", "--rights", ""), writes=True),
    "photo remove": Usage((photo(),), writes=True),
    "instrument add": Usage(
        (new_name("folding rule", "instrument"), "--kind", "rule", "--resolution", length("1 mm"),
         "--limit", Named("0.3 mm + 0.2 mm/m", "limit"), "--steady", "--notes", "brass ends"),
        writes=True,
        others=((new_name("drawing of the hut", "instrument"), "--kind", "drawing", "--drawn-at", SCALE),),
    ),
    "instrument amend": Usage(
        (Named("folding rod", "instrument"), "--name", new_name("longer rod", "instrument"), "--kind", "drawing", "--drawn-at", SCALE,
         "--resolution", length("1 mm"), "--limit", Named("0.3 mm + 0.2 mm/m", "limit"), "--steady", "--notes", ""),
        writes=True,
    ),
    "instrument remove-check": Usage((Named(CHECK_ID, "check"),), writes=True),
    "instrument kinds": Usage(()),
    "instrument usual": Usage(
        (Named("tape", "kind of instrument"), "--limit", Named("0.3 mm + 0.2 mm/m", "limit"),
         "--resolution", length("1 mm"), "--why", "the mark on it"),
        writes=True,
        others=((Named("phone", "kind of instrument"), "--forget"),),
    ),
    "instrument list": Usage(()),
    "instrument check": Usage(
        (TAPE, "--reference", length("2743mm ± 1mm"), "--reading", length("2.75m"), "--on", DAY, "--visit", visit(),
         "--at", SCALE),
        writes=True,
    ),
    "instrument show": Usage((TAPE, "--at", SCALE, "--plot", Named("tape.svg", "file to make"))),
    "size count": Usage(
        (subject(), "plinth height", "34", "--over", "8", "--measured", length("602 mm"), "--uneven", length("2 mm"),
         "--with", TAPE, "--photo", photo(), "--visit", visit(), "--on", DAY),
        writes=True,
    ),
    "size add": Usage(
        (subject(), "post height", length("9ft"), "--with", TAPE, "--photo", photo(), "--visit", visit(), "--on", DAY,
         "--span", SPAN, "--state", "as built", "--note", "by the gate"),
        writes=True,
        others=(
            (subject(), "lamp height", length("12ft"), "--guess", "twice as high as the man beside it"),
            (subject(), "post height", length("9ft 1in"), "--published", "the canal company's list"),
            (subject(), "post height", length("9ft 2in"), "--from-sister", "Upper crane", "--differs", length("1 in")),
            (subject(), "bolts", "12", "--count"),
            (subject(), "jib", "42", "--angle"),
            (subject(), "ramp", "1 in 8", "--slope"),
            (subject(), "--lines", LINES, "--keep-good"),
        ),
    ),
    "size template": Usage((subject(),)),
    "size amend": Usage(
        (subject(), Named("jib length", "size of the subject"), length("18ft 5in"), "--reading", "18ft 6in", "--why", "misread"),
        writes=True,
    ),
    "size set-aside": Usage((READING, "--why", "the tape sagged"), writes=True),
    "size move": Usage(
        (subject(), Named("jib length", "size of the subject"), "--to-subject", subject(), "--to-label", "beam length"),
        writes=True,
    ),
    "size run": Usage(
        (subject(), "base, from left", Named("0; bolt 0.42 m; [plate width /over]; end 1.18", "run"), "--with", TAPE,
         "--photo", photo(), "--visit", visit(), "--on", DAY, "--replace"),
        writes=True,
    ),
    "size work-out": Usage(
        (subject(), "base length", Named("2 x base half", "sum of sizes"), "--span", Named("over", "span"), "--state", "as built"),
        writes=True,
    ),
    "size show": Usage((subject(), Named("jib length", "size of the subject"), "--at", SCALE)),
    "sizes": Usage((subject(), "--at", SCALE)),
    "tally add": Usage((subject(), Named("base half + 15in = base width", "sum")), writes=True),
    "tally list": Usage((subject(),)),
    "tally remove": Usage((Named("2 x base half = base width", "tally"),), writes=True),
    "gaps": Usage(
        (Named("Crane in 7 mm", "build or subject"), "--at", SCALE, "--none", "sheave diameter", "--skip", "jib radius",
         "--want", "jib length", Named("± 4 mm", "limit"), "--ask-again", "sheave diameter"),
        writes=True,
    ),
    "mark": Usage(
        (photo(), "post foot", "60.5", "70", "--crisp", "--snap", "edge"), writes=True,
        others=((photo(), "post foot", "60.5", "70", "--worn"),),
    ),
    "marks": Usage((photo(),)),
    "derive": Usage((Named("post.toml", "sheet"), "--dry-run", "--move-marks"), writes=True),
    "explain": Usage(
        (subject(), Named("hook drop", "size of the subject"), "--at", SCALE, "--picture", Named("drop.png", "picture to make")),
        others=((READING,),),
    ),
    "find": Usage(
        ("crane", "--kind", KIND, "--view", VIEW, "--visit", visit(), "--size", Named("jib length over 4 m", "size asked for"),
         "--model-size", Named("jib length over 10 cm", "size asked for"), "--at", SCALE,
         "--ratio", Named("jib length to jib length about 1 to 1", "ratio"), "--has", Named("jib length", "label"), "--taken", Named("June 2023", "time"),
         "--near", Named("Wendle Basin", "place"), Named("2 km", "distance"), "--most", "5"),
        others=(("crane", "--unlinked"), ("crane", "--contact-sheet", Named("found.jpg", "sheet to make")), ("crane", "--good-for", SCALE),
                ("--looks-like", photo()), ("crane", "--keep-as", Named("Some cranes", "name to keep by")), ("--kept", SEARCH)),
    ),
    "searches": Usage((), others=(("--forget", SEARCH),)),
    "open": Usage(("--port", "0", "--no-browser", "--on-network", "--may-change")),
    "kinds": Usage((KIND, "--used")),
    "kind add": Usage(
        (new_name("slipway cradle", "kind"), "--under", KIND, "--also", "boat cradle", "--view", VIEW, "--size", "cradle length"),
        writes=True,
    ),
    "kind remove": Usage((Named("wharf derrick", "own kind"),), writes=True),
    "build add": Usage(
        (new_name("Wharf in N", "build"), "--scale", SCALE, "--subject", subject(), "--process", "resin",
         "--tolerance", length("0.1mm"), "--notes", "for the shelf"),
        writes=True,
    ),
    "build show": Usage((BUILD,)),
    "build list": Usage(()),
    "verify": Usage(()),
    "repair": Usage(("--from", Named("card", "folder of copies")), writes=True),
    "history": Usage((Named("Wharf crane", "thing"), "--most", "5")),
    "undo": Usage((ACT,), writes=True),
    "pack": Usage((BUILD, "--to", Named("crane pack", "folder to make"), "--paper", "a4")),
}  # fmt: skip

# What each sort of word must not be, and how the refusal begins.
REFUSED: dict[str, tuple[tuple[str, str], ...]] = {
    "kept search": (("Crans", "There is no search called 'Crans'"),),
    "name to keep by": (("", "needs a name"),),
    "other name": (("small crane", "There is no other name of Wharf crane called 'small crane'"),),
    "new name of it": (("lock GATE", "There is already a subject called 'Lock gate'"), (" ", "needs a name"),
                       ("Wharf crane", "'Wharf crane' is called so already")),
    "new name of the visit": (("wendle basin, september", "There is already a visit called"), ("", "needs a name"),
                              ("Wendle Basin, June", "'Wendle Basin, June' is called so already")),
    "new other name": (("lock GATE", "There is already a subject called 'Lock gate'"), ("", "needs a name")),
    "subject": (("Wharf crone", "There is no subject called 'Wharf crone'"),),
    "thing": (
        ("Wharf crone", "There is no subject, photo or visit called 'Wharf crone'"),
        ("HC20_0412", "'HC20_0412' fits more than one thing"),
    ),
    "photo": (
        ("HC20_9999", "There is no photo called 'HC20_9999'"),
        ("HC20_0412", "'HC20_0412' fits more than one photo"),
        ("HC20_0412.JPG", "'HC20_0412.JPG' fits more than one photo"),
        ("no such visit/HC20_0412", "There is no photo called"),
    ),
    "visit": (("Wendle Basin, Juni", "There is no visit called 'Wendle Basin, Juni'"),),
    "visit or new": (("v0123456789", "There is no visit called 'v0123456789'"), ("", "A visit needs a name")),
    "instrument": (("long type", "There is no instrument called 'long type'"),),
    "check": (("k0123456789", "There is no check called 'k0123456789'"), ("the first", "There is no check called")),
    "kind of instrument": (("sextant", "There is no kind of instrument called 'sextant'"),),
    "build": (("Crane in 8 mm", "There is no build called 'Crane in 8 mm'"),),
    "span": (("across", "A size is not taken 'across'"),),
    "reading": (("r0123456789", "There is no reading called 'r0123456789'"), ("18ft 6in", "There is no reading called")),
    "file": (("no such file", "There is no file at 'no such file'"), ("card", "'card' is a folder and no file of lines"),
             ("old notes.txt", "'old notes.txt' is not written in UTF-8 (line 2")),
    "act": (("999", "There is no act 999"),),
    "length": (("18ft 6im", "'18ft 6im' was not understood"), ("a bit", "was not understood")),
    "run": (("0; bolt 0.42 m; end 0.18", "does not lie beyond"), ("end", "ends in no position")),
    "sum": (("jib length", "nothing says what the sum comes to"), ("rib length = 3 m", "there is no size of Wharf crane")),
    "sum of sizes": (("2 x rib length", "there is no size of Wharf crane"), ("2 +", "is missing here")),
    "tally": (("jib length = 2 m", "There is no tally called"),),
    "limit": (("quite good", "was not understood"),),
    "scale": (("1:none", "was not understood as a scale"), ("1:0", "was not understood as a scale")),
    "size asked for": (("jib length over 4 mm of", ""), ("about twelve elephants", "")),
    "ratio": (("twice", "'twice' was not understood as a proportion"),),
    "build or subject": (("Crane in 8 mm", "There is no build or subject called 'Crane in 8 mm'"),),
    "label": (("rib length", "There is no size called 'rib length'"),),
    "time": (("soon", "'soon' was not understood as a time"), ("2024 to 2023", "'2024 to 2023' ends before it begins")),
    "place": (("Wendle Basil", "There is no place called 'Wendle Basil'"), ("91, 0", "'91, 0' lies nowhere on earth")),
    "distance": (("a bit", "was not understood"), ("0 km", "'0 km' is no distance")),
    "picture to make": (("post.toml", "'post.toml' is not the name of a picture"), ("no such folder/drop.png", "'no such folder/drop.png' could not be written")),
    "sheet": (("no such.toml", "There is no sheet at 'no such.toml'"), ("a file.txt", "The sheet 'a file.txt' was not understood"), ("card", "'card' is a folder and no sheet")),
    "day": (("2023-06-31", "'2023-06-31' is not a day"), ("last week", "'last week' is not a day")),
    "pages": (("0", "'0' does not name pages"), ("3-1", "'3-1' does not name pages"), ("two", "'two' does not name pages")),
    "duration": (("an hour", "'an hour' is not a length of time"), ("1h 2h", "'1h 2h' is not a length of time"), ("-5m", "is not a length of time")),
    "camera of the visit": (("Halden C21", "There is no camera of the visit Wendle Basin, June called 'Halden C21'"),),
    "zone": (("Europe/Wendle", "There is no time zone called 'Europe/Wendle'"),),
    "view": (("sideways", "'sideways'"),),
    "region": (("the left half", "'the left half' is not a region of a photo"), ("0,0 to 122,80", "lies outside HC20_0415.JPG"),
               ("-1,0 to 50,50", "lies outside"), ("7,7 to 7,7", "too small to show anything"), ("nan,0 to 9,9", "is not a region"), ("", "is not a region")),
    "size of the subject": (("jib width", "There is no size of Wharf crane called 'jib width'"),),
    "kind": (("flying machine", "There is no kind called 'flying machine'"),),
    "new kind": (("Crane", "There is already a kind called"), ("-", "A kind needs a name")),
    "own kind": (("crane", "comes with Rivetbook and stays"), ("warf derick", "There is no kind called 'warf derick'")),
    "folder of copies": (("no such card", "There is no folder at 'no such card'"), ("a file.txt", "There is no folder at")),
    "given": (("no such card", "There is no file or folder at 'no such card'"),),
    "folder to make": (("card", ""), ("a file.txt", "")),
    "sheet to make": (("a file.txt", "is not the name of a JPEG"), ("no such folder/found.jpg", "could not be written")),
    "file to make": (("a file.txt", "is there already"), ("no such folder/tape.svg", "could not be written")),
    "new visit": (("wendle basin,  JUNE", "There is already a visit called 'Wendle Basin, June'"), (" ", "needs a name")),
    "new subject": (("WHARF CRANE", "There is already a subject called 'Wharf crane'"), ("", "needs a name")),
    "new instrument": (("Long Tape", "There is already an instrument called 'long tape'"), ("", "needs a name")),
    "new build": (("crane in 7 MM", "There is already a build called 'Crane in 7 mm'"), ("", "needs a name")),
}  # fmt: skip


def commands() -> Iterator[tuple[str, click.Command]]:
    """Every command by the words that call it, as the program itself lists them."""
    yield from _below(main, "")


def _below(group: click.Group, words: str) -> Iterator[tuple[str, click.Command]]:
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        if isinstance(command, click.Group):
            yield from _below(command, f"{words}{name} ")
        else:
            yield words + name, command


def options_of(command: click.Command) -> list[str]:
    """The long names of a command's own options, without those that every command has."""
    return [
        name
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for name in parameter.opts
        if name.startswith("--") and name not in ("--archive", "--json", "--help")
    ]


def said(words: Words) -> list[str]:
    """The words as typed."""
    return [word.text if isinstance(word, Named) else word for word in words]


def refusals() -> Iterator[tuple[str, list[str], str]]:
    """Every command line with one bad word in it: the command, its words, what the refusal must say."""
    for name, usage in USAGES.items():
        for usual in usage.all_words:
            for at, word in enumerate(usual):
                if isinstance(word, Named):
                    for bad, sentence in REFUSED[word.sort]:
                        if not bad.strip() and str(usual[at - 1]).startswith("--"):
                            sentence = "was left empty"
                        yield name, [*said(usual[:at]), bad, *said(usual[at + 1 :])], sentence
