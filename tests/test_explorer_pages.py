"""The pages of the explorer: what they answer is what the library answers, and every figure leads on."""

from __future__ import annotations

import gzip
import hashlib
import html
import json
import re
import sqlite3
import tomllib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any
from urllib.parse import quote, urlencode

import pytest

from jointable.explorer import limits, lines
from jointable.explorer.answers import ANSWERS
from jointable.explorer.questions import QUESTIONS, address
from jointable.explorer.tables import FACETS
from jointable.jsonform import dumps
from jointable.plan_read import plan_of_text
from jointable.reference import Reference, database_path
from tests.explorer_support import ROOT, Explorer, Reply, explorer

pytest.importorskip("datasette")


@pytest.fixture(scope="module")
def served() -> Iterator[Explorer]:
    with explorer() as running:
        yield running


class Links(HTMLParser):
    """The addresses that a page leads to, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep what a link names."""
        self.found += [v for k, v in attrs if k == "href" and v]

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        self.words.append(data)

    @property
    def text(self) -> str:
        """The text of the page on one line."""
        return " ".join(" ".join(self.words).split())


def _answered(served: Explorer, path: str, kind: str = "text/html") -> Reply:
    reply = served.ask_until(lambda r: r.status != 503, path)
    assert reply.status == 200, f"{path}: {reply.body[:400]!r}"
    assert reply.headers["content-type"].startswith(kind)
    return reply


JOINTS = [
    ("3x12", {}),
    ("2x12 + 1x18 stranded", {"family": "twist-on"}),
    ("4x2.5 mm2 flexible", {"location": "wet", "temperature_c": "90"}),
    ("2x14 | 1x12", {}),
    ("3x12 + 1x14", {"material_mark": "cu", "grip": "wide", "voltage": "240"}),
]


@pytest.mark.parametrize(("conductors", "demands"), JOINTS)
def test_a_joint_is_answered_as_the_library_does(
    served: Explorer, reference: Reference, conductors: str, demands: dict[str, str]
) -> None:
    ours = {("temperature" if k == "temperature_c" else k): v for k, v in demands.items()}
    path = address("joint", {"conductors": conductors, **ours}, json=True)
    got = _answered(served, path, "application/json").text
    assert got.strip() == dumps(reference.connectors(conductors, **demands).to_dict())


def test_an_order_is_chosen_as_in_the_library(served: Explorer, reference: Reference) -> None:
    firsts = set()
    for rank, tag in (("room", "least room"), ("classes", "takes most mixes"), ("margin", "most central")):
        path = address("joint", {"conductors": "3x12", "family": "twist-on", "rank": rank}, json=True)
        wanted = reference.connectors("3x12", family="twist-on", rank=rank).to_dict()
        assert _answered(served, path, "application/json").text.strip() == dumps(wanted)
        firsts.add(wanted["choices"][0]["class"])
        page = _answered(served, address("joint", {"conductors": "3x12", "rank": rank})).text
        assert f'<span class="tag">{tag}</span>' in page
        assert f"<option selected>{rank}</option>" in page
    assert len(firsts) == 3
    assert served.ask("/joint.json?conductors=3x12&rank=brand").status == 400


def test_questions_at_once_are_each_answered_as_alone(served: Explorer, reference: Reference) -> None:
    """Those that wait are asked together: one that is wrong or long touches no other."""
    joints = [f"{n % 4 + 1}x12 + {n // 4 + 1}x14" for n in range(12)]
    boxes = [f"box 4 x 1-1/2 square\ncable 12/2\npigtail 14 x {n + 1}" for n in range(12)]
    asked = [("joint", "conductors", j) for j in (*joints, "3x13.5", "20x14")]
    asked += [("box", "items", b) for b in (*boxes, "box 4 x 1-1/2 square\nconductor 12 x -1", "rubbish")]
    more = {"box": {"brief": "1"}}
    paths = [address(name, {field: value, **more.get(name, {})}, json=True) for name, field, value in asked]
    with ThreadPoolExecutor(len(asked)) as pool:  # a slow machine may turn some away, which ask again
        replies = list(pool.map(lambda path: served.ask_until(lambda r: r.status != 503, path), paths))
    answered = 0
    for (name, _, value), reply in zip(asked, replies, strict=True):
        if value in ("3x13.5", "rubbish") or value.endswith("-1"):
            assert reply.status == 400, value
            assert json.loads(reply.text)["error"], value
        else:
            assert reply.status == 200, value
            rows = lines.rows_of(value)[0] if name == "box" else []
            wanted: Any = (
                reference.connectors(value).to_dict()
                if name == "joint"
                else [r.to_dict() for r in reference.fill(rows)]
            )
            assert reply.text.strip() == dumps(wanted), value
            answered += 1
    assert answered == len(asked) - 3


def test_a_joint_page_says_all_of_it(served: Explorer, reference: Reference) -> None:
    answer = reference.connectors("3x12 + 1x14 stranded").to_dict()
    page = Links(_answered(served, address("joint", {"conductors": "3x12 + 1x14 stranded"})).text)
    for choice in answer["choices"]:
        assert choice["class"] in page.text
    for refusal in answer["refused"]:
        assert refusal["class"] in page.text
        assert refusal["reason"] in page.text
    for caution in answer["cautions"]:
        assert " ".join(caution["text"].split()) in page.text
    for assumption in answer["assumptions"]:
        assert assumption in page.text
    traced = [link for link in page.found if link.startswith("/trace?")]
    assert len(traced) >= len(answer["choices"])


def test_a_drawing_that_takes_too_long_is_left_out(
    reference: Reference, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The joint is answered all the same, and the page says what is not there."""
    monkeypatch.setattr(limits, "DRAWING_SECONDS", 0.02)
    found = ANSWERS["joint"](reference, {"conductors": "3x12 + 3x14 + 2x10", "drawing": True})
    assert found["drawing"] is None
    assert found["refused"]
    monkeypatch.undo()
    assert "<svg" in ANSWERS["joint"](reference, {"conductors": "3x12 + 1x14", "drawing": True})["drawing"]


def test_a_split_is_told_where_no_class_takes_the_joint(served: Explorer) -> None:
    page = Links(_answered(served, "/joint?conductors=8x12&family=twist-on").text)
    assert "No class takes it" in page.text
    assert re.search(r"\d connectors, tied by \d jumper", page.text)


RANGES = [
    {"size": "16"},
    {"size": "16", "grip": "wide"},
    {"size": "2.5", "family": "screwless lever", "ways": "3"},
]


@pytest.mark.parametrize("asked", RANGES)
def test_a_range_is_answered_as_the_library_does(
    served: Explorer, reference: Reference, asked: dict[str, str]
) -> None:
    got = _answered(served, address("range", asked, json=True), "application/json").text
    size, options = asked["size"], {k: v for k, v in asked.items() if k != "size"}
    assert got.strip() == dumps(reference.range(size, **options))
    page = Links(_answered(served, address("range", asked)).text)
    assert json.loads(got)["class"] in page.text


BOXES = [
    "box 4 x 1-1/2 square\n2 cable 12/2\ndevice conductor_size=12\nclamp",
    "box 4 x 1-1/2 round\n4 cable 14/2\nclamp\nstud conductor_size=14",
    "box 18 in3; 4 conductor 14; 2 grounding 14",
]


@pytest.mark.parametrize("items", BOXES)
@pytest.mark.parametrize("edition", ["nec-2023", "nec-2017", "cec-2021"])
def test_a_box_is_answered_as_the_library_does(
    served: Explorer, reference: Reference, items: str, edition: str
) -> None:
    rows, _ = lines.rows_of(items)
    wanted = json.loads(dumps([r.to_dict() for r in reference.fill(rows, edition)]))
    path = address("box", {"edition": edition, "items": items}, json=True)
    got = json.loads(_answered(served, f"{path}&brief=1", "application/json").text)
    assert len(wanted) == 1
    assert got == wanted
    more = json.loads(_answered(served, path, "application/json").text)
    assert {k: more[0][k] for k in wanted[0]} == wanted[0]
    assert {"what_changes_it", "smallest_boxes", "other_editions"} <= set(more[0])
    page = Links(_answered(served, address("box", {"edition": edition, "items": items})).text)
    words = {True: "passes", False: "does not pass", None: "undecided"}
    assert words[wanted[0]["passes"]] in page.text
    for line in wanted[0]["lines"]:
        assert line["clause"] in page.text
    for caution in wanted[0]["cautions"]:
        assert " ".join(caution["text"].split()) in page.text
    assert any(link.startswith("/trace?") for link in page.found)


def test_items_without_a_box_are_told_the_boxes_that_hold_them(served: Explorer) -> None:
    reply = served.ask(address("box", {"items": "2 cable 12/2\ndevice conductor_size=12"}))
    assert reply.status == 400
    assert "Standard boxes that hold these items" in reply.text
    assert "3 x 2 x 3-1/2 device" in reply.text


def test_other_editions_stand_beside(served: Explorer, reference: Reference) -> None:
    path = address("box", {"items": BOXES[0]}, json=True)
    # An answer that ran out of time says so by null, and is not kept; the next one is asked anew.
    reply = served.ask_until(
        lambda r: r.status == 200 and json.loads(r.text)[0]["other_editions"] is not None, path
    )
    others = {e["edition"] for e in json.loads(reply.text)[0]["other_editions"]}
    known = {r[0] for r in reference.rows("SELECT edition FROM edition WHERE has_volume_rule")}
    assert others == known - {"nec-2023"}


SCHEDULE = "box,item,size,quantity,joint\nA,conductor,12,3,L\nA,conductor,14,2,N\nB,conductor,10,4,L\n"


def _stock(served: Explorer, path: str, **fields: str) -> Reply:
    body = "&".join(f"{name}={quote(value)}" for name, value in fields.items()).encode()
    return served.ask(path, "POST", body, {"content-type": "application/x-www-form-urlencoded"})


def test_a_stock_is_answered_as_the_library_does(served: Explorer, reference: Reference) -> None:
    from jointable.schedule_csv import from_csv

    wanted = dumps(reference.stock(from_csv(SCHEDULE.encode(), "schedule"), spare_percent="10"))
    posted = _stock(served, "/stock.json", schedule=SCHEDULE, spare="10")
    assert posted.text.strip() == wanted
    got = served.ask(address("stock", {"schedule": SCHEDULE, "spare": "10"}, json=True))
    assert got.text == posted.text
    assert posted.headers["cache-control"] == got.headers["cache-control"] == "no-store"


def test_a_schedule_may_be_sent_as_a_file(served: Explorer) -> None:
    body = (
        '--b0\r\nContent-Disposition: form-data; name="schedule"\r\n\r\n\r\n'
        '--b0\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\nContent-Type: text/csv\r\n\r\n'
        f'{SCHEDULE}\r\n--b0\r\nContent-Disposition: form-data; name="spare"\r\n\r\n10\r\n--b0--\r\n'
    ).encode()
    kind = {"content-type": "multipart/form-data; boundary=b0"}
    page = served.ask("/stock", "POST", body, kind)
    assert page.status == 200
    assert (
        served.ask("/stock.json", "POST", body, kind).text
        == _stock(served, "/stock.json", schedule=SCHEDULE, spare="10").text
    )
    assert "To stock" in page.text


TRACES = [
    ("allowance", "nec-2023,12 AWG", "volume_in3"),
    ("box", "nec-2023,4 x 1-1/2 square", "volume_in3"),
    ("conductor_size", "12 AWG", "area_mm2"),
    ("connector_class", "twist-on 16", "room_cm3"),
]


@pytest.mark.parametrize(("table", "key", "column"), TRACES)
def test_a_trace_is_answered_as_the_library_does(
    served: Explorer, reference: Reference, table: str, key: str, column: str
) -> None:
    asked = {"table": table, "key": key, "column": column}
    got = _answered(served, address("trace", asked, json=True), "application/json").text
    wanted = reference.trace(table, key, column).to_dict() | {"data_version": reference.data_version}
    assert got.strip() == dumps(wanted)
    page = _answered(served, address("trace", asked)).text
    assert '<g class="node' in page
    for check in wanted["checks"]:
        assert check["check_id"] in page
    for inner in wanted["inputs"]:
        assert html.escape(inner["key"]) in page


def test_every_value_of_every_table_leads_to_its_trace(served: Explorer, reference: Reference) -> None:
    """One click from each value of a reference table; a link of each table is followed."""
    keys = dict(
        reference.rows(
            "SELECT table_name, constraint_column_names FROM duckdb_constraints() WHERE constraint_type = 'PRIMARY KEY'"
        )
    )
    tables = [r[0] for r in reference.rows("SELECT DISTINCT table_name FROM provenance ORDER BY 1")]
    assert len(tables) > 20
    for table in tables:
        page = Links(_answered(served, f"/jointable/{table}?_size=20").text)
        rows = json.loads(served.ask(f"/jointable/{table}.json?_size=20&_shape=array").text)
        values = sum(v is not None for row in rows for k, v in row.items() if k not in keys[table])
        traced = [link for link in page.found if link.startswith("/trace?")]
        assert len(traced) == values, table
        if traced:
            assert served.ask(traced[-1]).status == 200, traced[-1]


def test_every_table_says_what_it_is(served: Explorer, reference: Reference) -> None:
    with sqlite3.connect(f"file:{database_path().with_suffix('.sqlite')}?mode=ro", uri=True) as twin:
        names = {row[0] for row in twin.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    comments = reference.rows("SELECT table_name, comment FROM duckdb_tables() ORDER BY 1")
    tables = [(table, comment) for table, comment in comments if table in names]
    assert len(tables) == len(names)
    columns = reference.rows("SELECT table_name, column_name, comment FROM duckdb_columns()")
    assert tables
    for table, comment in tables:
        page = Links(_answered(served, f"/jointable/{table}?_size=5").text)
        title, _, description = comment.partition(". ")
        assert title in page.text
        assert " ".join(description.split()) in page.text
        assert "CC BY 4.0" in page.text
        assert reference.data_version in page.text
        assert "Source" in page.text
        for owner, column, text in columns:
            if owner == table:
                assert column in page.text
                described, _, unit = text.partition(" [")
                assert " ".join(described.split()) in page.text
                assert unit.rstrip("]") in page.text


def test_foreign_keys_lead_on(served: Explorer) -> None:
    page = Links(_answered(served, "/jointable/allowance?_size=3").text)
    rows = [link for link in page.found if link.startswith("/jointable/edition/")]
    assert rows
    assert "nec-" in served.ask(rows[0]).text or "cec-" in served.ask(rows[0]).text


def _queries() -> dict[str, dict[str, str]]:
    return tomllib.loads((ROOT / "jointable" / "explorer" / "queries.toml").read_text("utf-8"))


@pytest.mark.parametrize("name", sorted(_queries()))
def test_each_query_is_documented_and_answers(served: Explorer, name: str) -> None:
    query = _queries()[name]
    assert query["title"] in (ROOT / "docs" / "explorer.md").read_text("utf-8")
    rows = json.loads(_answered(served, f"/jointable/{name}.json?_shape=array", "application/json").text)
    assert rows
    page = Links(_answered(served, f"/jointable/{name}").text)
    assert query["title"] in page.text
    assert " ".join(query["description"].split()) in page.text
    assert name in served.ask("/jointable").text


def test_a_query_takes_its_parameters(served: Explorer) -> None:
    some = json.loads(served.ask("/jointable/boxes_for_volume.json?volume_in3=30&_shape=array").text)
    assert some
    assert min(row["volume_in3"] for row in some) >= 30
    sizes = json.loads(served.ask("/jointable/allowances_by_edition.json?size=12+AWG&_shape=array").text)
    assert {row["size"] for row in sizes} == {"12 AWG"}
    # NFPA 70-2023 Table 314.16(B)(1): 2.25 cubic inches for 12 AWG.
    assert {r["volume_in3"] for r in sizes if r["edition"] == "nec-2023"} == {2.25}


def test_a_query_prints_numbers_as_tables_do(served: Explorer) -> None:
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", served.ask("/jointable/boxes_for_volume?volume_in3=18").text)
    assert "18" in cells
    assert "30.3" in cells
    assert not [c for c in cells if c.endswith(".0")]


@pytest.mark.parametrize("asked", ["volume_in3=abc", "volume_in3=inf", "volume=30", "volume_in3=1_8"])
def test_a_query_refuses_what_would_be_another_question(served: Explorer, asked: str) -> None:
    for form in ("", ".json", ".csv"):
        assert served.ask(f"/jointable/boxes_for_volume{form}?{asked}").status == 400


def test_the_audit_page_has_every_part(served: Explorer, reference: Reference) -> None:
    page = Links(_answered(served, "/audit").text)
    for (check,) in reference.rows("SELECT check_id FROM check_rule"):
        assert check in page.text
    for (source,) in reference.rows("SELECT source_id FROM source"):
        assert source in page.text
    for (printed,) in reference.rows("SELECT reason FROM correction"):
        assert " ".join(printed.split()) in page.text
    got = json.loads(served.ask("/audit.json").text)
    assert got["data_version"] == reference.data_version
    assert len(got["checks"]) == reference.rows("SELECT count(*) FROM check_rule")[0][0]
    assert {"sources", "score", "single", "corrections", "releases", "changes"} <= set(got)


def test_downloads_are_the_published_files(served: Explorer) -> None:
    files = json.loads(_answered(served, "/downloads.json", "application/json").text)["files"]
    assert {"jointable.duckdb", "jointable.sqlite", "datapackage.json", "box.parquet", "box.csv"} <= {
        f["name"] for f in files
    }
    for file in files:
        if file["name"] in ("jointable.duckdb", "box.parquet", "datapackage.json"):
            reply = served.ask(f"/downloads/{file['name']}")
            assert len(reply.body) == file["bytes"] == int(reply.headers["content-length"])
            assert hashlib.sha256(reply.body).hexdigest() == file["sha256"]
            fixed = served.ask(file["address"])
            assert fixed.body == reply.body
            assert "immutable" in fixed.headers["cache-control"]
            assert "immutable" not in reply.headers["cache-control"]
    assert "jointable.duckdb" in served.ask("/").text


@pytest.mark.parametrize(
    "path", ["/jointable/box.csv", "/jointable/box.json", "/downloads/box.parquet", "/downloads/box.csv"]
)
def test_a_download_carries_licence_source_and_version(
    served: Explorer, reference: Reference, path: str
) -> None:
    reply = _answered(served, path, "")
    assert reply.headers["x-data-version"] == reference.data_version
    assert 'rel="license"' in reply.headers["link"]
    assert 'rel="describedby"' in reply.headers["link"]
    if path.endswith(".json"):
        about = json.loads(reply.text)
        assert about["license"] == "CC BY 4.0"
        assert reference.data_version in about["source"]


@pytest.mark.parametrize("ending", ["", ".json", ".csv"])
@pytest.mark.parametrize("sql", ["select nope", "select 1; select 2", "select hex(zeroblob(99999999))"])
def test_bad_sql_is_an_error_in_every_form(served: Explorer, sql: str, ending: str) -> None:
    """Datasette by itself gives an empty file as if there were no rows."""
    for stream in ("", "&_stream=on") if ending == ".csv" else ("",):
        reply = served.ask(f"/jointable{ending}?sql={quote(sql)}{stream}")
        assert reply.status == 400
        assert reply.headers["cache-control"] == "no-store"
        assert reply.body


def test_a_table_as_json_says_its_source_and_version(served: Explorer, reference: Reference) -> None:
    for path in ("/jointable/allowance.json?_size=1", "/jointable/allowance/nec-2023,12~20AWG.json"):
        told = json.loads(_answered(served, path, "application/json").text)
        assert told["data_version"] == reference.data_version
        assert "National Electrical Code, 2023" in told["source"]
        assert told["license"] == "CC BY 4.0"
        # How long the query took would give equal rows another ETag each time.
        assert "query_ms" not in told
    wrong = json.loads(served.ask("/jointable/box.json?_shape=zzz").text)
    assert (wrong["ok"], wrong["status"], wrong["data_version"]) == (False, 400, reference.data_version)


@pytest.mark.parametrize("query", ["editon=nec-2023", "edition__zz=1", "nope=1", "%3Cscript%3E=1"])
def test_a_filter_by_no_column_is_an_error(served: Explorer, query: str) -> None:
    """SQLite would take the name for a text and find no rows."""
    for ending in ("", ".json", ".csv"):
        assert served.ask(f"/jointable/box{ending}?{query}").status == 400
    for right in ("edition=nec-2023", "edition__exact=nec-2023", "depth_in__gt=2", "trade_size_mm__isnull=1"):
        assert served.ask(f"/jointable/box.json?_size=1&{right}").status == 200


def test_a_clamp_is_marked_by_the_metric_pair(reference: Reference) -> None:
    """14 AWG counts as 2.5 mm² there, on the edge of a range that its own 2.08 mm² lies below."""
    for family, area in (("screwless lever", Decimal("2.5")), ("split bolt", Decimal("2.080907717"))):
        answer = ANSWERS["joint"](reference, {"conductors": "2x14", "family": family, "drawing": True})
        assert answer["choices"]
        for choice in answer["choices"]:
            assert answer["limits"][choice["class"]]["areas"] == [area]


def test_answers_can_be_kept_and_asked_again(served: Explorer) -> None:
    first = served.ask("/joint.json?conductors=3x12")
    again = served.ask("/joint.json?conductors=3x12", headers={"if-none-match": first.headers["etag"]})
    assert again.status == 304
    assert again.body == b""
    head = served.ask("/joint.json?conductors=3x12", "HEAD")
    assert head.status == 200
    assert head.body == b""
    assert head.headers["content-length"] == str(len(first.body))
    packed = served.ask("/joint.json?conductors=3x12", headers={"accept-encoding": "gzip"})
    assert packed.headers["content-encoding"] == "gzip"
    assert gzip.decompress(packed.body) == first.body
    assert packed.headers["etag"] != first.headers["etag"]
    both = {"accept-encoding": "gzip", "if-none-match": packed.headers["etag"]}
    assert served.ask("/joint.json?conductors=3x12", headers=both).status == 304
    for refused in ("gzip;q=0", "br, gzip; q=0.0", "identity;q=0.5"):
        plain = served.ask("/joint.json?conductors=3x12", headers={"accept-encoding": refused})
        assert "content-encoding" not in plain.headers
        assert plain.headers["etag"] == first.headers["etag"]
    assert "etag" not in served.ask(address("stock", {"schedule": SCHEDULE}, json=True)).headers
    other = served.ask("/joint.json?conductors=2x12")
    assert other.headers["etag"] != first.headers["etag"]


def test_wrong_input_says_where_and_what_would_be_right(served: Explorer) -> None:
    reply = served.ask("/joint.json?conductors=3x13.5")
    told = json.loads(reply.text)
    assert reply.status == told["status"] == 400
    assert told["ok"] is False
    assert "3x13.5" in told["error"]
    page = served.ask("/joint?conductors=3x13.5")
    assert page.status == 400
    assert 'role="alert"' in page.text
    assert 'value="3x13.5"' in page.text
    assert (
        json.loads(served.ask("/joint.json?conducters=3x12").text)["expected"] == "did you mean 'conductors'?"
    )
    assert json.loads(served.ask("/box.json?items=cabel+12/2").text)["row"] == 1
    for ways in ("1", "x", "9"):
        assert json.loads(served.ask(f"/range.json?size=16&ways={ways}").text)["column"] == "ways"


def test_a_plan_is_that_of_the_library_and_can_be_changed(served: Explorer, reference: Reference) -> None:
    got = json.loads(_answered(served, "/plan.json?pattern=end-of-run-switch", "application/json").text)
    text = got.pop("plan")
    boxes = plan_of_text(reference, text, "plan")
    assert got == json.loads(dumps(reference.plan(boxes).to_dict()))
    page = _answered(served, "/plan?pattern=end-of-run-switch").text
    assert html.escape(text.splitlines()[0], quote=True).split(" ")[0] in page
    assert "Smallest standard box" in page
    assert "/joint?conductors=4x14+AWG" in Links(page).found
    form = {"content-type": "application/x-www-form-urlencoded"}
    sent = "plan=" + quote(text.replace("14/2", "12/2")) + "&edition=nec-2017"
    changed = served.ask("/plan.json", "POST", sent.encode(), form)
    assert changed.status == 200
    told = json.loads(changed.text)
    assert told["edition"] == "nec-2017"
    assert "4x12 AWG" in {j["text"] for b in told["boxes"] for j in b["joints"]}
    assert served.ask("/plan", "POST", sent.encode(), form).status == 200


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("", "plan: not given"),
        ("pattern=no-such", "no such pattern"),
        ("pattern=end-of-run-switch&plan=name", "a pattern and a plan of your own"),
        ("plan=%3Cscript%3E", "no TOML"),
        ("plan=name+%3D+%22%3Cb%3E%22", "nothing enters the box"),
        ("plan=" + quote('[[enters]]\nsize="99/2"'), "99/2"),
        ("plan=" + quote("\n".join(f'[[box]]\nname="{n}"\nenters=[{{size="14/2"}}]' for n in range(40))), "too many boxes"),
    ],
)  # fmt: skip
def test_a_bad_plan_is_told(served: Explorer, query: str, told: str) -> None:
    reply = served.ask(f"/plan.json?{query}")
    assert reply.status == 400
    assert told in json.loads(reply.text)["error"]
    page = served.ask(f"/plan?{query}")
    assert page.status == (400 if query else 200)
    assert "<script>" not in page.text.replace("<script src=", "")


def test_the_chart_is_that_of_the_library_and_prints(served: Explorer, reference: Reference) -> None:
    got = json.loads(_answered(served, "/chart.json?family=crimped+butt&sizes=mm2", "application/json").text)
    assert got == json.loads(dumps(reference.chart("crimped butt", sizes="mm2")))
    page = Links(_answered(served, "/chart?family=crimped+butt&sizes=mm2").text)
    cell = "/joint?conductors=3x2.5+mm2+%7C+3x2.5+mm2&family=crimped+butt"
    assert cell in page.found
    assert served.ask(cell).status == 200
    for paper in ("a4", "letter", "pocket"):
        address = f"/chart/{paper}.svg?family=crimped+butt&sizes=mm2"
        assert address in page.found
        sheet = served.ask(address)
        assert (sheet.status, sheet.headers["content-type"]) == (200, "image/svg+xml; charset=utf-8")
    assert served.ask("/chart/a3.svg").status == 404
    assert served.ask("/chart/a4.svg?family=%3Cscript%3E").status == 400


def test_an_answer_says_its_language(served: Explorer) -> None:
    page = _answered(served, "/joint?conductors=8x12&family=twist-on&language=fr").text
    assert '<div class="answer" id="answer" aria-live="polite" lang="fr">' in page
    assert "Mises en garde" in page
    assert "8 conducteurs dépassent les 6 que cette classe admet" in page
    assert "this class takes" not in page
    answer = json.loads(served.ask("/joint.json?conductors=8x12&family=twist-on&language=fr").text)
    assert answer["language"] == "fr"
    wrong = served.ask("/joint?conductors=8x12&language=de")
    assert wrong.status == 400
    assert "unknown language" in wrong.text
    assert 'lang="de"' not in wrong.text


def test_the_description_names_every_form(served: Explorer) -> None:
    described = json.loads(_answered(served, "/openapi.json", "application/json").text)
    assert described["openapi"].startswith("3.")
    for question in QUESTIONS.values():
        operation = described["paths"][f"/{question.name}.json"]["get"]
        assert [p["name"] for p in operation["parameters"]] == [f.name for f in question.fields]
        for label, parameters in question.examples:
            reply = _answered(served, address(question.name, parameters, json=True), "application/json")
            answer = json.loads(reply.text)
            schema = operation["responses"]["200"]["content"]["application/json"]["schema"]
            one = answer[0] if schema["type"] == "array" else answer
            required = (schema.get("items") or schema)["required"]
            assert set(required) <= set(one), label
            _answered(served, address(question.name, parameters))


def test_the_front_page_leads_to_every_page(served: Explorer) -> None:
    page = Links(_answered(served, "/").text)
    for path in (
        "/joint",
        "/range",
        "/chart",
        "/box",
        "/stock",
        "/trace",
        "/jointable",
        "/audit",
        "/downloads/",
        "/downloads/jointable.duckdb",
        "/downloads/datapackage.json",
        "/downloads/box.parquet",
    ):
        assert path in page.found
        assert served.ask(path).status == 200
    assert json.loads(served.ask("/.json").text)["openapi"] == "/openapi.json"


def test_what_is_there_is_that_of_the_library(served: Explorer, reference: Reference) -> None:
    asked = "conductors=3x12&class=twist-on+10&add=1x12&location=wet"
    got = json.loads(_answered(served, f"/check.json?{asked}", "application/json").text)
    joint = {"conductors": "3x12", "class": "twist-on 10", "add": "1x12", "location": "wet"}
    assert got == json.loads(dumps(reference.check({"joint": [joint]}).to_dict()))
    page = _answered(served, f"/check?{asked}").text
    for finding in got["boxes"][0]["findings"]:
        assert all(finding[k] in page for k in ("what", "why", "clause", "do"))
    form = {"content-type": "application/x-www-form-urlencoded"}
    boxes = urlencode({"boxes": '[[joint]]\nconductors = "2x12"\nfree_mm = 50\n'})
    assert "300.14" in served.ask("/check", "POST", boxes.encode(), form).text
    assert served.ask("/check.json").status == 400
    assert served.ask("/check?conductors=3x12&class=none").status == 400


def test_four_twelves_and_a_fourteen_within_two_taps(served: Explorer) -> None:
    found = re.search(r'<a href="(/joint[^"]*)">four twelves and a fourteen</a>', _answered(served, "/").text)
    assert found
    assert "twist-on 16" in _answered(served, found[1]).text


def test_pages_carry_the_lines_of_advice(served: Explorer) -> None:
    page = _answered(served, "/joint?conductors=2x12+aluminium+stranded").text
    assert "CPSC publication 516" in page
    assert "Making it up" in page
    assert "Damp, wet and buried" in _answered(served, "/joint?conductors=2x12&location=burial").text
    assert "Making it up" in _answered(served, "/plan?pattern=end-of-run-switch").text


def test_labels_record_and_exercises_have_pages(served: Explorer) -> None:
    label = _answered(served, "/plan/label?pattern=end-of-run-switch&language=fr")
    assert label.text.count('<section class="label">') == 2
    assert 'lang="fr"' in label.text
    own = urlencode({"plan": 'name = "K9"\nenters = [{ size = "12/2" }]\ndevice = [{ kind = "switch" }]'})
    form = {"content-type": "application/x-www-form-urlencoded"}
    record = served.ask("/plan/record.csv", "POST", own.encode(), form)
    assert record.status == 200
    assert record.headers["content-type"].startswith("text/csv")
    assert record.text.splitlines()[1].startswith("K9,")
    assert served.ask("/plan/label").status == 400
    assert served.ask("/plan/other", "POST", own.encode(), form).status == 405
    page = _answered(served, "/exercise?seed=7").text
    told = json.loads(served.ask("/exercise.json?seed=7").text)
    assert all(html.escape(e["question"]) in page for e in told["exercises"])
    assert "/exercise" in Links(_answered(served, "/").text).found


def test_a_page_in_another_language_is_so_whole(served: Explorer) -> None:
    page = _answered(served, "/joint?conductors=8x12&family=twist-on&language=es&work=1").text
    words = Links(page).text
    for english in ("Find classes", "No class takes it", "The work, step by step", "jumper", "Cautions"):
        assert english not in words
    assert "suma de áreas: 26.470 mm²" in page


def test_a_row_whose_key_holds_a_dot_is_led_to(served: Explorer) -> None:
    page = Links(_answered(served, "/jointable/edition").text)
    sources = [link for link in page.found if link.startswith("/jointable/source/")]
    assert any("~2E" in link for link in sources), "the test needs a key with a dot"
    assert {served.ask(link).status for link in sources} == {200}


def test_an_evidence_table_leads_to_the_traces_of_its_cells(served: Explorer) -> None:
    page = Links(
        _answered(served, "/jointable/provenance?table_name=allowance&column_name=volume_in3&_size=3").text
    )
    traced = [link for link in page.found if link.startswith("/trace?table=allowance")]
    assert len(traced) == 9  # its column, what was printed and the value, in three rows
    assert served.ask(traced[0]).status == 200


def test_facets_are_chosen_of_columns_that_exist_and_named_by_key(served: Explorer) -> None:
    tables = {t["name"]: t["columns"] for t in json.loads(served.ask("/jointable.json").text)["tables"]}
    assert {(t, c) for t, chosen in FACETS.items() for c in chosen if c not in tables[t]} == set()
    page = Links(_answered(served, "/jointable/box?_facet=edition").text)
    assert "nec-2023 24" in page.text  # the title of an edition names no year
    assert page.text.count("nec-2020 24") == 1
    assert not [link for link in page.found if link.startswith("http")]


def test_a_csv_says_where_it_comes_from(served: Explorer) -> None:
    for path, source in (
        ("/jointable/allowance.csv?edition=nec-2023", "nfpa-70-2023"),
        ("/jointable/allowance/nec-2023,12~20AWG.csv", "nfpa-70-2023"),
        ("/downloads/allowance.csv", "nfpa-70-2023"),
        ("/jointable.csv?sql=select+*+from+allowance", "provenance"),
        ("/jointable/boxes_for_volume.csv", "provenance"),
    ):
        reply = _answered(served, path, "text/csv")
        assert source in reply.headers["x-source"], path
        assert 'rel="license"' in reply.headers["link"]
        assert reply.headers["x-data-version"]
    told = json.loads(served.ask("/jointable/allowance.json?_size=1").text)
    assert told["units"] == {"volume_in3": "in3", "volume_cm3": "cm3"}


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        ("/jointable/box?_nocl=kind", 400, "did you mean &#39;_nocol&#39;?"),
        ("/jointable/box?_search=round", 400, "no such parameter"),
        ("/jointable/box?volume_in3__gt=abc", 400, "not a number"),
        ("/jointable/box?edition__arraycontains=x", 400, "edition__ and one of"),
        ("/jointable/box.json?_shape=bogus", 400, "bogus"),
        ("/jointable.json?sql=select+1&_shape=object", 400, "only available on tables"),
        ("/jointable/box/nec-2023", 404, "edition, box"),
        ("/jointable/boxes_for_volume?volume_in3=18&volume_in3=20", 400, "given twice"),
    ],
)
def test_a_table_address_that_means_nothing_is_said_to(
    served: Explorer, path: str, status: int, said: str
) -> None:
    reply = served.ask(path)
    assert reply.status == status
    assert said in reply.text


def test_a_question_takes_a_bare_size(served: Explorer) -> None:
    for name in ("allowances_by_edition", "conductor_dimensions"):
        bare, whole = (
            served.ask(f"/jointable/{name}.json?size={s}&_shape=array").text for s in ("14", "14+AWG")
        )
        assert json.loads(bare) == json.loads(whole) != []


def test_what_is_posted_is_linked_where_it_fits_an_address(served: Explorer) -> None:
    form = {"content-type": "Application/X-WWW-Form-Urlencoded"}  # a media type has no case
    schedule = "box,item,size,quantity,joint\nA,conductor,12,3,L\n"
    page = served.ask("/stock", "POST", urlencode({"schedule": schedule}).encode(), form)
    link = next(a for a in Links(page.text).found if a.startswith("/stock?schedule="))
    assert "To stock" in _answered(served, link).text
    long = urlencode({"items": "box 4 x 2-1/8 square\n" + "pigtail 12 note=spare\n" * 300}).encode()
    page = served.ask_until(lambda r: r.status != 503, "/box", "POST", long, form)
    assert page.status == 200
    assert not [a for a in Links(page.text).found if a.startswith(("/box?items=box+4+x+2", "/box.json"))]
    assert '<form id="as-json" action="/box.json" method="post"' in page.text


@pytest.mark.parametrize(
    "path",
    [
        "/exercise?seed=7",
        "/trace?table=allowance&key=nec-2023,12+AWG&column=volume_in3",
        "/jointable/boxes_for_volume",
        "/box?items=2+cable+12/2",
    ],
)
def test_cautions_stand_beside_every_answer(served: Explorer, path: str) -> None:
    reply = served.ask_until(lambda r: r.status != 503, path)
    assert 'class="cautions"' in reply.text
    assert "The authority having jurisdiction decides" in reply.text


def test_a_measured_volume_is_shown_with_the_decimals_of_a_code(served: Explorer) -> None:
    box = "box width_mm=300 height_mm=300 depth_mm=150\nraceway 53 wall=left row=1 pull=straight"
    page = Links(_answered(served, address("box", {"items": box})).text)
    assert "has 823.8205 in³" in page.text
