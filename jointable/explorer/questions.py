"""The questions that pages ask: their parameters, once, for forms, for reading addresses, and for OpenAPI."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode

from jointable.check_form import KINDS
from jointable.errors import InputError
from jointable.explorer.as_found import EXAMPLE as AS_FOUND
from jointable.language import LANGUAGES
from jointable.plan_read import pattern_names
from jointable.schedule_form import closest

__all__ = ["QUESTIONS", "Field", "Question", "address", "read"]

_PLAN = """name = "hall"
size = "3 x 2 x 3-1/2 device"
enters = [
  { role = "feed", size = "14/2" },
  { role = "travellers", size = "14/3" },
]
device = [{ kind = "three-way switch" }]"""

_TRUE = ("1", "true", "on", "yes")
_FALSE = ("", "0", "false", "off", "no")


@dataclass(frozen=True, slots=True)
class Field:
    """A parameter of a question.

    Args:
        name: Its name in the address.
        label: What the form calls it.
        kind: `text`, `lines`, `choice`, `number` or `flag`.
        help: What to write, in a sentence.
        example: A value that works.
        choices: The values of a choice; or `choices_of`, the list of the catalogue that has them.
        required: Whether there is no answer without it.
        empty: What a choice says that is not made.
    """

    name: str
    label: str
    kind: str = "text"
    help: str = ""
    example: str = ""
    choices: tuple[str, ...] = ()
    choices_of: str = ""
    required: bool = False
    empty: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """One page that answers: its name is its address."""

    name: str
    title: str
    about: str
    fields: tuple[Field, ...]
    #: Each a label and the parameters.
    examples: tuple[tuple[str, Mapping[str, str]], ...] = ()
    #: Whether it may be asked by POST, for what is too long for an address.
    posted: bool = False

    @property
    def required(self) -> tuple[str, ...]:
        """The parameters without which there is no answer."""
        return tuple(f.name for f in self.fields if f.required)

    def field(self, name: str) -> Field:
        """The parameter of that name."""
        return next(f for f in self.fields if f.name == name)


_FAMILY = Field("family", "Family", "choice", choices_of="family", example="twist-on", empty="every family")
_GRIP = Field("grip", "Grip", "choice", choices=("standard", "wide"), example="wide", empty="either")

_LANGUAGE = Field(
    "language",
    "Language of the answer",
    "choice",
    choices=LANGUAGES,
    example="fr",
    empty="not said",
)

_WORK = Field("work", "Show the work, each step as a line", "flag", example="1")

_ITEMS = "box 4 x 1-1/2 square\n2 cable 12/2\ndevice conductor_size=12\nclamp"
_SCHEDULE = (
    "box,item,size,quantity,joint,boxes\n"
    "kitchen,box,4 x 1-1/2 square,1,,6\nkitchen,conductor,12,3,L,\nkitchen,conductor,12,3,N,\n"
    "hall,box,4 x 1-1/2 round,1,,4\nhall,conductor,14,4,L,\nhall,conductor,14,2,N,"
)

QUESTIONS: Mapping[str, Question] = {
    q.name: q
    for q in (
        Question(
            "joint",
            "Make a joint",
            "Which connector classes take these conductors, and why the others do not.",
            (
                Field(
                    "conductors",
                    "Conductors",
                    help="Count x size, joined by +. Sizes: 12, 4/0, 250 kcmil, 2.5 mm2. Words after a size: solid, "
                    "stranded, flexible; copper, aluminium, copper-clad; an insulation type. A bar | parts the two ends "
                    "of a butt joint.",
                    example="3x12 + 1x14 stranded",
                    required=True,
                ),
                _FAMILY,
                _GRIP,
                Field(
                    "location",
                    "Location",
                    "choice",
                    choices=("dry", "damp", "wet", "burial"),
                    example="wet",
                    empty="not said",
                ),
                Field("temperature", "Temperature at the joint, °C", "number", example="90"),
                Field("voltage", "Circuit voltage, V", "number", example="240"),
                Field(
                    "material_mark",
                    "Material marking",
                    "choice",
                    choices=("cu", "al-cu"),
                    example="al-cu",
                    empty="not said",
                ),
                Field(
                    "rank",
                    "Order in a family",
                    "choice",
                    choices=("room", "classes", "margin"),
                    help="By room (least first), by classes (the one that takes most mixes first, so that few serve "
                    "many joints), or by margin (the one in whose range the total lies most central first).",
                    example="margin",
                    empty="room",
                ),
                Field("pass_through", "One grounding conductor goes on through", "flag", example="1"),
                Field("reopenable", "It must open again", "flag", example="1"),
                _WORK,
                _LANGUAGE,
            ),
            (
                ("3 × 12 AWG", {"conductors": "3x12"}),
                ("a fixture lead with two 12 AWG", {"conductors": "2x12 + 1x18 stranded"}),
                ("four 2.5 mm² in a wet place", {"conductors": "4x2.5 mm2", "location": "wet"}),
                ("eight 12 AWG: split", {"conductors": "8x12"}),
            ),
        ),
        Question(
            "range",
            "Range of a class",
            "The least and the greatest mixes that a class takes, and how many of each size.",
            (
                Field(
                    "size",
                    "Size, mm²",
                    help="The number in the name of the class.",
                    example="16",
                    required=True,
                ),
                Field(
                    "family", "Family", "choice", choices_of="family", example="twist-on", empty="twist-on"
                ),
                Field(
                    "grip", "Grip", "choice", choices=("standard", "wide"), example="wide", empty="standard"
                ),
                Field(
                    "ways",
                    "Ways of a clamp",
                    "choice",
                    choices=("2", "3", "4", "5", "6"),
                    example="3",
                    empty="2",
                ),
                _LANGUAGE,
            ),
            (
                ("twist-on 16", {"size": "16", "family": "twist-on"}),
                ("twist-on 16 wide", {"size": "16", "family": "twist-on", "grip": "wide"}),
                ("lever clamp 2.5, 3 ways", {"size": "2.5", "family": "screwless lever", "ways": "3"}),
            ),
        ),
        Question(
            "chart",
            "Chart of a family",
            "The smallest class for so many conductors of one size, to print and carry.",
            (
                Field(
                    "family", "Family", "choice", choices_of="family", example="twist-on", empty="twist-on"
                ),
                Field(
                    "grip",
                    "Grip",
                    "choice",
                    choices=("standard", "wide"),
                    example="wide",
                    empty="the smaller of both",
                ),
                Field("sizes", "Sizes", "choice", choices=("awg", "mm2"), example="mm2", empty="awg"),
                Field(
                    "edition", "Edition", "choice", choices_of="edition", example="nec-2023", empty="nec-2023"
                ),
                _LANGUAGE,
            ),
            (
                ("twist-on, AWG", {"family": "twist-on", "sizes": "awg"}),
                ("lever clamps, mm²", {"family": "screwless lever", "sizes": "mm2"}),
                ("split bolts: run and tap", {"family": "split bolt"}),
            ),
        ),
        Question(
            "box",
            "Check a box",
            "Whether the box is big enough under an edition of the code, line by line with its clause.",
            (
                Field(
                    "edition", "Edition", "choice", choices_of="edition", example="nec-2023", empty="nec-2023"
                ),
                Field(
                    "items",
                    "What is in the box",
                    "lines",
                    help="An item a line, or parted by semicolons.",
                    example=_ITEMS,
                    required=True,
                ),
                Field(
                    "brief",
                    "In JSON the fill alone, without what would change it, the smallest boxes and the other editions",
                    "flag",
                    example="1",
                ),
                _WORK,
                _LANGUAGE,
            ),
            (
                ("two 12/2 cables and a device", {"items": _ITEMS}),
                (
                    "an overfull round box",
                    {"items": "box 4 x 1-1/4 round\n3 cable 14/2\nclamp\nstud conductor_size=14"},
                ),
                (
                    "a marked box in Canada",
                    {"edition": "cec-2021", "items": "box 300 mL\n8 conductor 14\n3 connector 14\ndevice 14"},
                ),
            ),
            posted=True,
        ),
        Question(
            "plan",
            "Plan a box",
            "From what enters a box and its devices to joints, classes, fill, the smallest box and room.",
            (
                Field(
                    "pattern",
                    "A ready pattern",
                    "choice",
                    choices=tuple(pattern_names()),
                    example="three-way-feed-at-first-switch",
                    empty="your own plan below",
                ),
                Field(
                    "plan",
                    "Your own plan",
                    "lines",
                    help="What enters and which devices there are, as TOML; start from a pattern and change it.",
                    example=_PLAN,
                ),
                Field(
                    "edition", "Edition", "choice", choices_of="edition", example="nec-2023", empty="nec-2023"
                ),
                Field(
                    "family", "Family", "choice", choices_of="family", example="twist-on", empty="twist-on"
                ),
                Field(
                    "date",
                    "Date on label and record",
                    help="Year-month-day; without it a blank is left for the hand.",
                    example="2026-11-25",
                ),
                _WORK,
                _LANGUAGE,
            ),
            (
                ("switch at the end of the run", {"pattern": "end-of-run-switch"}),
                ("three-way pair, feed at the first switch", {"pattern": "three-way-feed-at-first-switch"}),
                ("a three-way switch in a device box of 18 in³", {"plan": _PLAN}),
            ),
            posted=True,
        ),
        Question(
            "check",
            "What is there already",
            "An opened joint or box as found, and what it becomes when conductors are added or taken out: what is "
            "wrong, why, by which clause, how serious, and what to do.",
            (
                Field(
                    "conductors",
                    "Conductors in the joint",
                    help="As found: count x size, joined by +.",
                    example="3x12",
                ),
                Field(
                    "class",
                    "The class it is in",
                    help="Such as twist-on 10; leave it empty where nobody knows.",
                    example="twist-on 10",
                ),
                Field("add", "Added", example="1x12"),
                Field("remove", "Taken out", example="1x12"),
                Field("kind", "Joint of", "choice", choices=KINDS, example="neutral", empty="not said"),
                Field(
                    "location",
                    "Location",
                    "choice",
                    choices=("dry", "damp", "wet", "burial"),
                    example="wet",
                    empty="not said",
                ),
                Field("temperature", "Temperature at the joint, °C", "number", example="90"),
                Field("voltage", "Circuit voltage, V", "number", example="240"),
                Field("free", "Free conductor, mm", "number", example="120"),
                Field(
                    "edition", "Edition", "choice", choices_of="edition", example="nec-2023", empty="nec-2023"
                ),
                Field("new", "The changed joint gets a new connector", "flag", example="1"),
                Field("reused", "The connector was in use before", "flag", example="1"),
                Field(
                    "boxes",
                    "Opened boxes",
                    "lines",
                    help="As TOML: what the box is, each joint with its conductors and class, and further items.",
                    example=AS_FOUND,
                ),
                _LANGUAGE,
            ),
            (
                ("one 12 more", {"conductors": "3x12", "class": "twist-on 10", "add": "1x12"}),
                (
                    "one taken out",
                    {"conductors": "4x12", "class": "twist-on 16", "remove": "1x12"},
                ),
                ("old aluminium", {"conductors": "2x12 aluminium"}),
            ),
            posted=True,
        ),
        Question(
            "exercise",
            "Exercises",
            "Joints and boxes to work out with a pencil, and the worked answers on a sheet of their own.",
            (
                Field(
                    "seed",
                    "Seed",
                    "number",
                    help="Which exercises: the same number gives the same ones.",
                    example="7",
                ),
                Field("count", "How many", "number", help="Six unless said.", example="9"),
                Field(
                    "edition", "Edition", "choice", choices_of="edition", example="nec-2023", empty="nec-2023"
                ),
                Field("blank", "Questions alone, without the answers", "flag", example="1"),
                _LANGUAGE,
            ),
            (
                ("exercises 7", {"seed": "7"}),
                ("nine of another seed", {"seed": "12", "count": "9"}),
                ("questions alone", {"seed": "7", "blank": "1"}),
            ),
        ),
        Question(
            "stock",
            "Plan the stock",
            "The fewest classes that serve every joint of a schedule, with quantities.",
            (
                Field(
                    "schedule",
                    "Schedule",
                    "lines",
                    help="A CSV table with the columns box, item, size, quantity and joint: the rows of one box with the "
                    "same joint are made up together. It is kept in this browser and in the request, nowhere else.",
                    example=_SCHEDULE,
                    required=True,
                ),
                Field(
                    "family", "Family", "choice", choices_of="family", example="twist-on", empty="twist-on"
                ),
                _GRIP,
                Field("spare", "Spare, per cent", "number", example="10"),
                _LANGUAGE,
            ),
            (("two kinds of box", {"schedule": _SCHEDULE, "spare": "10"}),),
            posted=True,
        ),
        Question(
            "trace",
            "Trace a value",
            "Where a published value was printed, how it got here, and what checks it.",
            (
                Field(
                    "table",
                    "Table",
                    "choice",
                    choices_of="traced",
                    example="box",
                    required=True,
                    empty="choose a table",
                ),
                Field(
                    "key",
                    "Key of the row",
                    help="The values of the primary key in the order of the table, parted by commas.",
                    example="nec-2023,4 x 1-1/2 square",
                    required=True,
                ),
                Field("column", "Column", example="volume_in3", required=True),
            ),
            (
                (
                    "the volume of a box",
                    {"table": "box", "key": "nec-2023,4 x 1-1/2 square", "column": "volume_in3"},
                ),
                ("an allowance", {"table": "allowance", "key": "nec-2023,12 AWG", "column": "volume_in3"}),
                ("the area of 12 AWG", {"table": "conductor_size", "key": "12 AWG", "column": "area_mm2"}),
            ),
        ),
    )
}


def address(name: str, parameters: Mapping[str, str], json: bool = False) -> str:
    """The address of a question with its parameters.

    >>> address("joint", {"conductors": "3x12 + 1x14", "family": ""}, json=True)
    '/joint.json?conductors=3x12+%2B+1x14'
    """
    query = urlencode({k: v for k, v in parameters.items() if v})
    return f"/{name}{'.json' if json else ''}" + (f"?{query}" if query else "")


def read(question: Question, query: str) -> dict[str, str]:
    """Read the parameters of a question from a query string.

    Args:
        question: The question.
        query: The query string, or the body of a form.

    Returns:
        Name to value; an empty value is left out, a flag is `1`.

    Raises:
        InputError: A parameter is unknown or given twice, or a flag is neither yes nor no.

    >>> read(QUESTIONS["joint"], "conductors=3x12&pass_through=true&family=")
    {'conductors': '3x12', 'pass_through': '1'}
    """
    try:
        pairs = parse_qsl(query, keep_blank_values=True, max_num_fields=50, errors="strict")
    except (UnicodeDecodeError, ValueError):
        raise InputError("the address cannot be read", expected="percent-encoded UTF-8") from None
    return checked(question, pairs)


def checked(question: Question, pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """The same from pairs of name and value."""
    names = [f.name for f in question.fields]
    out: dict[str, str] = {}
    seen: set[str] = set()
    for name, value in pairs:
        if name not in names:
            guess = closest(name, names)
            raise InputError(
                "no such parameter",
                column=name[:60] or "(no name)",
                expected=f"did you mean {guess!r}?" if guess else "one of " + ", ".join(names),
            )
        if name in seen:
            raise InputError("given twice", column=name, expected="each parameter once")
        seen.add(name)
        text = _value(question.field(name), value)
        if text:
            out[name] = text
    return out


def _value(field: Field, value: str) -> str:
    if "\x00" in value:
        raise InputError("the value holds a NUL character", column=field.name, expected="text")
    text = value.strip()
    if field.kind != "flag":
        return text
    if text.lower() in _TRUE:
        return "1"
    if text.lower() in _FALSE:
        return ""
    raise InputError("neither yes nor no", column=field.name, value=text, expected="1, or leave it out")
