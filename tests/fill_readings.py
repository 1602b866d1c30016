"""Each reading of the box schedule as smallest cases, with figures worked out by hand.

An item is written `item size xN key=value`; figures are in3 (NEC) or mL (Canada). The reading that
decides is named; the clause is NEC 314.16 unless another stands there.
"""

from __future__ import annotations

from dataclasses import dataclass, field

ALL = ("nec-2014", "nec-2017", "nec-2020", "nec-2023")
OLD = ALL[:2]
NEW = ALL[2:]
CANADA = ("cec-2015", "cec-2018", "cec-2021")
BOX = "box volume_in3=50"
ML_BOX = "box volume_cm3=900"
#: A pull box that keeps 314.28(A)(1): eight times 3 in is 609.6 mm.
PULL = (
    "box width_mm=900 height_mm=900 depth_mm=200; conductor 4/0 x3; "
    "raceway 3 wall=left pull=straight; raceway 3 wall=right pull=straight; "
)
#: The same without a depth, so without a volume.
FLAT = PULL.replace(" depth_mm=200", "")


@dataclass(frozen=True)
class Case:
    """A smallest case: what the schedule says and what must come out."""

    reading: str
    items: str
    editions: tuple[str, ...] = ALL
    expect: dict[str, object] = field(default_factory=dict)
    error: str = ""  # a word of the refusal, where there is no answer

    def rows(self) -> list[dict[str, str]]:
        """The rows of the schedule."""
        return [{"box": "a"} | _row(text.strip()) for text in self.items.split(";")]


def _row(text: str) -> dict[str, str]:
    first, *words = text.split(" ")
    row, size = {"item": first}, []
    for word in words:
        name, equals, value = word.partition("=")
        if equals:
            row[name] = value.replace("_", " ") if name in ("size", "space", "note") else value
        elif word.startswith("x") and word[1:].isdigit():
            row["quantity"] = word[1:]
        else:
            size.append(word)
    return row | ({"size": " ".join(size)} if size else {})


def _in3(reading: str, items: str, value: str, editions: tuple[str, ...] = ALL, **more: object) -> Case:
    return Case(reading, items, editions, {"required_in3": value, **more})


def _ml(reading: str, items: str, value: str, editions: tuple[str, ...] = CANADA, **more: object) -> Case:
    return Case(reading, items, editions, {"required_cm3": value, **more})


NEC = (
    _in3("1 grounding is present", f"{BOX}; conductor 14 x2; grounding 10; clamp", "9", largest="10 AWG"),
    _in3("1 a pigtail is present", f"{BOX}; conductor 14 x2; pigtail 10; clamp", "6.5", largest="10 AWG"),
    _in3("1 left-out wires are present", f"{BOX}; conductor 18 x2; fixture_wire 16; clamp", "4.75"),
    _in3("1 left-out grounding is present", f"{BOX}; conductor 18; fixture_grounding 12; clamp", "3.75"),
    _in3("1 an isolated set is present", f"{BOX}; conductor 14; isolated_grounding 12; stud", "6.5"),
    _in3("1 cable grounding is present", f"{BOX}; cable 14/2; conductor 18; hickey", "9.5", OLD + NEW),
    _in3("1 none of quantity 0", f"{BOX}; conductor 14 x2; conductor 6 x0; clamp", "6", largest="14 AWG"),
    Case("2 a clamp alone", f"{BOX}; clamp", error="clamp"),
    Case("2 a stud alone", f"{BOX}; stud", error="stud"),
    Case("2 a hickey alone", f"{BOX}; hickey", error="hickey"),
    _in3("2 a clamp of quantity 0", f"{BOX}; clamp x0", "0", passes=True),
    _in3("(B)(2) clamps once", f"{BOX}; conductor 12; clamp x4; clamp", "4.5"),
    _in3("(B)(3) one for each type", f"{BOX}; conductor 12; stud x2; stud; hickey x3", "6.75"),
    _in3("a size on a clamp is ignored", f"{BOX}; conductor 14; clamp 6; stud 6", "6", largest="14 AWG"),
    _in3("3 a device without a size", f"{BOX}; conductor 14; grounding 12; device", "8.75"),
    _in3("3 a device with a size", f"{BOX}; conductor 12; device conductor_size=14", "6.25"),
    _in3("3 that conductor is present", f"{BOX}; conductor 14; device 10; clamp", "9.5", largest="10 AWG"),
    _in3("3 a device in size", f"{BOX}; conductor 12; device 14", "6.25"),
    _in3("3 size twice the same", f"{BOX}; device #14 conductor_size=14", "4"),
    Case("3 size twice, different", f"{BOX}; device 12 conductor_size=14", error="14"),
    _in3("(B)(4) two for each gang", f"{BOX}; conductor 12; device conductor_size=12 gangs=2", "11.25"),
    _in3("(B)(4) for each yoke", f"{BOX}; conductor 12; device x3 conductor_size=14 gangs=2", "26.25"),
    _in3("(B)(1) through counts once", f"{BOX}; through 12 x3", "6.75"),
    _in3("4 up to four small wires", f"{BOX}; conductor 14; fixture_wire 18 x2; fixture_wire 16 x2", "2"),
    _in3("4 five small wires", f"{BOX}; conductor 14; fixture_wire 18 x3; fixture_wire 16 x2", "10"),
    _in3("4 grounding still left out", f"{BOX}; fixture_wire 18 x5; fixture_grounding 18", "7.5"),
    _in3("4 14 AWG always counts", f"{BOX}; fixture_wire 14 x2; fixture_wire 18 x4", "4"),
    _in3("5 a loop without a length", f"{BOX}; loop 12", "4.5"),
    _in3("5 a loop of 300 mm", f"{BOX}; loop 12 loop_mm=300", "4.5"),
    _in3("5 a loop under 300 mm", f"{BOX}; loop 12 loop_mm=299.9", "2.25"),
    _in3("(B)(1) pigtails are free", f"{BOX}; conductor 12; pigtail 12 x9", "2.25"),
    _in3("6 one allowance, old", f"{BOX}; grounding 14 x5; grounding 12 x5", "2.25", OLD),
    _in3("6 quarters, new", f"{BOX}; grounding 14 x5; grounding 12 x5", "5.625", NEW),
    _in3("6 four are one", f"{BOX}; grounding 12 x4", "2.25"),
    _in3("6 a quarter is not rounded", f"{BOX}; grounding 16 x5", "2.1875", NEW),
    _in3("6 an isolated set, old", f"{BOX}; grounding 12 x2; isolated_grounding 14", "4.25", OLD),
    _in3("6 largest of all, old", f"{BOX}; grounding 14; isolated_grounding 10", "5", OLD),
    _in3("6 an isolated set alone, old", f"{BOX}; isolated_grounding 12 x3", "2.25", OLD),
    _in3("6 several sets one", f"{BOX}; grounding 14; isolated_grounding 14; isolated_grounding 12", "4.5", OLD),
    _in3("6 one tally, new", f"{BOX}; grounding 12 x3; isolated_grounding 14 x2", "2.8125", NEW),
    _in3("6 cables give grounds", f"{BOX}; cable 12/2 x6", "30.375", NEW),
    _in3("7 a cable", f"{BOX}; cable 14/3 x2", "14"),
    _in3("7 ground of 8 AWG", f"{BOX}; cable 8/2", "8.5"),
    _in3("7 ground of 6 AWG", f"{BOX}; cable 6/3", "17.5"),
    Case("7 other forms", f"{BOX}; cable 12-2", error="12-2"),
    Case("7 other words", f"{BOX}; cable size=12/2_G", error="12/2 G"),
    Case("a joint on a cable", f"{BOX}; cable 12/2 joint=j", error="joint"),
    _in3("8 a metal barrier", f"{BOX}; conductor 12; barrier material=metal", "2.25", ALL[1:], available_in3="49.5", passes=None),
    _in3("8 another barrier", f"{BOX}; conductor 12; barrier x2", "2.25", ALL[1:], available_in3="48", passes=None),
    _in3("8 a marked barrier", f"{BOX}; conductor 12; barrier volume_in3=0.7", "2.25", ALL[1:], available_in3="49.3"),
    _in3("8 nothing before 2017", f"{BOX}; conductor 12; barrier volume_in3=2", "2.25", ALL[:1], available_in3="50", passes=None),
    _in3("8 the whole fails", "box volume_in3=3; conductor 12; barrier", "2.25", ALL[1:], available_in3="2", passes=False),
    _in3("8 in a space nothing off", "box volume_in3=10 space=l; conductor 12 space=l; barrier space=l", "2.25",
         available_in3="10", passes=True),
    _in3("9 a marked extension", f"{BOX}; conductor 12; extension volume_in3=3.5 x2", "2.25", available_in3="57"),
    _in3("9 a table extension", f"{BOX}; extension 4 x 1-1/2 square", "0", available_in3="71"),
    _in3("9 an extension of another size", f"{BOX}; extension 3/4 plaster ring", "0", available_in3="50"),
    _in3("9 another extension", f"{BOX}; extension", "0", available_in3="50"),
    _in3("10 a terminal block before 2023", f"{BOX}; conductor 14; terminal_block 12", "2", ALL[:3], largest="12 AWG"),
    _in3("(B)(6) a terminal block", f"{BOX}; conductor 14; terminal_block 12 x2", "6.5", ALL[3:]),
    _in3("10 connectors", f"{BOX}; conductor 14; connector 12 x7", "2"),
    Case("11 4 AWG", f"{BOX}; conductor 4", error="314.28"),
    Case("11 20 AWG", f"{BOX}; conductor 20", error="no allowance printed"),
    Case("11 metric", f"{BOX}; conductor 2.5mm2", error="no allowance printed"),
    Case("11 4 AWG pigtail", f"{BOX}; conductor 12; pigtail 4", error="314.28"),
    _in3("11 with raceways out of the need", PULL + "conductor 12", "2.25", largest="4/0 AWG", passes=True),
    Case("11 a clamp goes by the largest of all", PULL + "conductor 12; clamp", error="4/0 AWG"),
    _in3("a pull box without a depth, small conductors", FLAT + "conductor 12", "2.25", available_in3=None, passes=None),
    _in3("a pull box without a depth, none but large", FLAT.rstrip("; "), "0", available_in3=None, passes=True),
    _in3("a pull box without a depth that fails 314.28", FLAT.replace("=900", "=600") + "conductor 12", "2.25",
         available_in3=None, passes=False),
    _in3("a pull box without a width that is needed", FLAT.replace("width_mm=900 ", "") + "conductor 12", "2.25",
         available_in3=None, passes=None),
    _in3("13 an open 314.28 leaves it undecided", PULL.replace("width_mm", "note") + "conductor 12 ; extension volume_in3=9", "2.25", passes=None),
    _in3("13 another open limit does not", f"{BOX}; conductor 12; device conductor_size=12", "6.75", passes=True),
    _in3("a pull box takes its inside dimensions", PULL + "conductor 12", "2.25", available_cm3="162000"),
    Case("12 in cm3", "box volume_cm3=245.80596; conductor 12; conductor 14", expect={"available_in3": "15", "passes": True}),
    _in3("12 exactly full in cm3", "box volume_cm3=73.741788; conductor 12 x2", "4.5", available_in3="4.5", passes=True),
    _in3("12 just over in cm3", "box volume_cm3=73.741787; conductor 12 x2", "4.5", passes=False),
    _in3("a mark wins", "box 4 x 1-1/2 square volume_in3=22; conductor 12", "2.25", available_in3="22"),
    Case("a mark wins over gangs", "box 3-3/4 x 2 x 3-1/2 masonry x4 volume_in3=22.2499",
         expect={"available_in3": "22.2499"}),
    Case("gangs multiply", "box 3 x 2 x 2-1/2 device x3", expect={"available_in3": "37.5", "passes": True}),
    Case("FS gangs multiply", "box FS multiple 1-3/4 x2", expect={"available_in3": "36"}),
    Case("gangs of a mark do not", "box volume_in3=34 x3", expect={"available_in3": "34"}),
    Case("square does not gang", "box 4 x 1-1/2 square x2", error="gang"),
    Case("round does not gang", "box 4 x 1-1/2 round x2", error="gang"),
    Case("metric trade size", "box 100 x 54 x 48 device", expect={"available_in3": "13"}),
    Case("fraction signs", "box square 4 x 1½", expect={"available_in3": "21"}),
    Case("octagonal", "box 4 x 2-1/8 octagonal", expect={"available_in3": "21.5"}),
    Case("one box only", f"{BOX}; {BOX}", error="box"),
    Case("no box", "conductor 12", error="box"),
    Case("no such box", "box 5 x 5 square", error="5 x 5 square"),
    Case("a body needs a mark", "conduit_body 4 x 1-1/2 square", error="volume"),
    _in3("(C)(2) a conduit body", "conduit_body volume_in3=6.5; conductor 12 x2", "4.5", available_in3="6.5", passes=True),
    Case("negative", f"{BOX}; conductor 12 x1; conductor 12 quantity=-1", error="-1"),
    Case("fractional", f"{BOX}; conductor 12 quantity=1.5", error="1.5"),
    Case("no such item", f"{BOX}; wire 12", error="wire"),
)  # fmt: skip

CANADIAN = (
    _ml("counted once each", f"{ML_BOX}; conductor 14; through 12; loop 10 loop_mm=900", "90.2"),
    _ml("pigtails are free", f"{ML_BOX}; conductor 14; pigtail 12 x3", "24.6"),
    _ml("a cable's ground is bare", f"{ML_BOX}; cable 14/2 x3", "147.6"),
    _ml("grounding is bare", f"{ML_BOX}; conductor 14; grounding 12 x4", "24.6"),
    _ml("insulated grounding", f"{ML_BOX}; conductor 14; grounding 12 insulation=TW", "53.3"),
    _ml("an isolated set counts", f"{ML_BOX}; conductor 14; isolated_grounding 14 x2", "73.8"),
    _ml("fixture wires are free, without limit", f"{ML_BOX}; conductor 14; fixture_wire 18 x9", "24.6"),
    _ml("fixture wire of 14 AWG", f"{ML_BOX}; fixture_wire 14 x2", "49.2"),
    _ml("clamps are free", f"{ML_BOX}; conductor 14; clamp x4", "24.6"),
    _ml("terminal blocks are free", f"{ML_BOX}; conductor 14; terminal_block 12", "24.6"),
    _ml("one connector", f"{ML_BOX}; conductor 14; connector", "24.6"),
    _ml("three connectors", f"{ML_BOX}; conductor 14; connector x3", "49.2"),
    _ml("pairs in order of size", f"{ML_BOX}; conductor 14; connector 14 x2; connector 10; connector 12", "86.1"),
    _ml("the odd smallest is free", f"{ML_BOX}; conductor 14; connector 10; connector 12; connector 14", "61.5"),
    _ml("unknown: the largest", f"{ML_BOX}; conductor 14; conductor 10; connector; connector 14", "98.4"),
    _ml("stud and hickey to 2018", f"{ML_BOX}; conductor 14; conductor 12; stud x2; hickey", "82", CANADA[:2]),
    _ml("stud and hickey from 2021", f"{ML_BOX}; conductor 14; conductor 12; stud x2; hickey", "139.4", CANADA[2:]),
    _ml("a bare ground is not the largest", f"{ML_BOX}; conductor 14; grounding 10; stud", "49.2"),
    _ml("a pigtail may be the largest", f"{ML_BOX}; conductor 14; pigtail 10; stud", "61.5"),
    _ml("an insulated bond may be the largest", f"{ML_BOX}; conductor 14; isolated_grounding 12; stud", "82"),
    _ml("two a strap", f"{ML_BOX}; conductor 12; device conductor_size=14", "77.9"),
    _ml("gangs are ignored", f"{ML_BOX}; conductor 14; device gangs=3", "73.8"),
    _ml("a device without a size", f"{ML_BOX}; conductor 12; conductor 14; device", "110.7"),
    _ml("a device at 25.4 mm", f"{ML_BOX}; conductor 14; device depth_mm=25.4", "73.8"),
    _ml("a deep device", f"{ML_BOX}; conductor 14; device depth_mm=30", "120.6"),
    _ml("deep devices", f"{ML_BOX}; conductor 14; device x2 depth_mm=45.5", "315.8"),
    _ml("verdict in mL", "box volume_cm3=147.6; conductor 14 x6", "147.6", passes=True),
    _ml("verdict in mL, over", "box volume_cm3=147.5; conductor 14 x6", "147.6", passes=False),
    Case("inches from their own column", "box 3 x 2 x 2 device; conductor 12", CANADA,
         {"required_in3": "1.75", "available_in3": "10", "available_cm3": "163"}),
    Case("verdict in in3 though mL is over", "box 4 x 1-1/2 square; conductor 14 x14", CANADA,
         {"required_cm3": "344.4", "available_cm3": "344", "passes": True}),
    Case("gangs multiply", "box 3 x 2 x 2-1/2 device x2", CANADA, {"available_in3": "25", "available_cm3": "408"}),
    Case("a named gang", "box FS 2 gang", CANADA, {"available_in3": "26", "available_cm3": "426"}),
    Case("tandem", "box FS 1 gang tandem", CANADA, {"available_in3": "34", "available_cm3": "557"}),
    _ml("a barrier leaves it open", f"{ML_BOX}; conductor 14; barrier", "24.6", available_cm3="900", passes=None),
    Case("an extension", "box volume_in3=10; extension volume_in3=2 x2", CANADA, {"available_in3": "14"}),
    Case("a through box goes by its depth", "box 3-3/4 x 2 through depth_mm=50", CANADA, {"available_cm3": "190"}),
    Case("a through box without a depth", "box 3-3/4 x 2 through", CANADA, error="depth"),
    Case("18 AWG has no allowance", f"{ML_BOX}; conductor 18", CANADA, error="no allowance printed"),
    Case("4 AWG has no allowance", f"{ML_BOX}; conductor 4", CANADA, error="no allowance printed"),
)  # fmt: skip
