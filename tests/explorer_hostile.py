"""Requests that nobody should send: more than two hundred, each with what may come back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import quote

__all__ = ["Hostile", "hostile"]

SCRIPT = "<script>alert(1)</script>"


@dataclass(frozen=True)
class Hostile:
    """One request; `status` are the answers that are right."""

    name: str
    path: str
    method: str = "GET"
    body: bytes | None = None
    headers: dict[str, str] = field(default_factory=dict)
    status: tuple[int, ...] = (400, 404)


def hostile() -> list[Hostile]:
    """All of them."""
    return [*_addresses(), *_methods(), *_sql(), *_tables(), *_questions(), *_bodies(), *_headers()]


def _addresses() -> Iterator[Hostile]:
    for path in (
        "/../../etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/..%2f..%2fetc%2fpasswd",
        "/downloads/../jointable.duckdb",
        "/downloads/%2e%2e%2fpyproject.toml",
        "/downloads/..\\..\\pyproject.toml",
        "/downloads//etc/passwd",
        "/downloads/sha256-0000/jointable.duckdb",
        "/downloads/sha256-0000/x/jointable.duckdb",
        "/downloads/.git/config",
        "/downloads/jointable.duckdb%00.csv",
        "/assets/../app.py",
        "/assets/explorer.css",
        "/assets/explorer-0000000000000000.css",
        "/-/static/app.css",
        "/-/static-plugins/jointable/../plugin.py",
        "/-/metadata.json",
        "/-/versions.json",
        "/-/plugins.json",
        "/-/settings.json",
        "/-/databases.json",
        "/-/threads.json",
        "/-/actor.json",
        "/-/auth-token?token=x",
        "/-/logout",
        "/-/permissions",
        "/-/messages",
        "/-/allow-debug",
        "/-/patterns",
        "/_internal",
        "/_internal/databases.json",
        "/_memory?sql=select+1",
        "/:memory:",
        "/jointable.db",
        "/jointable.sqlite",
        "/published/jointable.duckdb",
        "/.env",
        "/.git/HEAD",
        "/wp-login.php",
        "/cgi-bin/test",
        "/joint/",
        "/joint.xml",
        "/joint.json.json",
        "/JOINT",
        "/joint%00",
        "/joint;a=b",
        "/joint/../box",
        "//joint",
        "//evil.example/",
        "/\\evil.example/",
        "/%5cevil.example/",
        "/jointable//box",
        "/jointable/..%2f..%2f",
        "/jointable/%00",
        "/jointable/sqlite_master",
        "/jointable/sqlite_schema.json",
        "/jointable/no_such_table",
        "/jointable/box/no-such-row",
        "/jointable/box/a,b,c,d,e",
        "/jointable/box/~00",
        "/jointable/box.exe",
        "/jointable/box.jsonx",
        "/" + "a" * 3000,
        "/joint" + "/a" * 500,
        f"/{SCRIPT}",
        f"/jointable/{SCRIPT}",
        "/jointable/box/" + quote(SCRIPT),
        "/assets/" + "%41" * 200,
    ):
        # A redirect to the address without its closing slash is right too.
        yield Hostile(f"address {path[:60]}", path, status=(301, 302, 400, 403, 404))
    yield Hostile("an address of 20,000 bytes", "/joint?conductors=" + "1" * 20_000, status=(414,))
    yield Hostile("a query of 5,000 characters", "/box?items=" + "a" * 5_000, status=(414,))
    yield Hostile("a query of 5,000 encoded characters", "/box.json?items=" + "%41" * 5_000, status=(414,))
    yield Hostile("SQL of 5,000 characters", "/jointable?sql=select+1+--" + "a" * 5_000, status=(414,))


def _methods() -> Iterator[Hostile]:
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "MKCOL", "X" * 100):
        for path in ("/", "/joint", "/box.json", "/jointable/box", "/downloads/jointable.duckdb"):
            # A method that HTTP does not know is refused before there is a page.
            yield Hostile(
                f"{method[:12]} {path}", path, method, status=(400, 405) if len(method) > 9 else (405,)
            )
    for path in (
        "/",
        "/joint",
        "/trace.json",
        "/jointable",
        "/jointable/box",
        "/jointable/boxes_for_volume",
        "/audit",
    ):
        yield Hostile(
            f"POST {path}",
            path,
            "POST",
            b"a=b",
            {"content-type": "application/x-www-form-urlencoded"},
            (405,),
        )


def _sql() -> Iterator[Hostile]:
    endless = "with recursive c(x) as (select 1 union all select x+1 from c)"
    bombs = {
        "endless recursion": f"{endless} select count(*) from c",
        "endless rows": f"{endless} select x from c",
        "a sort of endless rows": f"{endless} select x from c order by -x",
        "groups without end": f"{endless} select randomblob(500) r, count(*) from c group by r",
        "a text that doubles": "with recursive c(x) as (select 'a' union all select x||x from c) select length(x) from c",
        "a gigabyte of zeros": "select zeroblob(1000000000)",
        "the length of a gigabyte": "select length(zeroblob(999999999))",
        "a gigabyte in hexadecimal": "select hex(zeroblob(500000000))",
        "a random gigabyte": "select randomblob(1000000000)",
        "many blobs": "select randomblob(900000) from check_cell",
        "many wide rows": "select " + ",".join(["randomblob(90000)"] * 40) + " from box",
        "a wide printf": "select printf('%1000000000d', 1)",
        "a printf by parameter": "select printf('%.*c', 2000000000, 'x')",
        "replace upon replace": "select replace(replace(replace(hex(zeroblob(9999)),'0',hex(zeroblob(99))),'0',hex(zeroblob(99))),'0','aa')",
        "everything in one text": f"{endless} select group_concat(x) from c",
        "everything in one JSON": f"{endless} select json_group_array(x) from c",
        "a product of tables": "select count(*) from check_cell a, check_cell b, check_cell c",
        "a product sorted": "select a.row_key from check_cell a, check_cell b order by b.residual * a.residual",
        "a catastrophic LIKE": "select replace(hex(zeroblob(30000)),'0','a') like '" + "%a" * 60 + "%b'",
        "a catastrophic GLOB": "select replace(hex(zeroblob(30000)),'0','a') glob '" + "*a" * 60 + "*b'",
        "LIKE on every row": "select count(*) from provenance where note like '" + "%e" * 40 + "%zz'",
        "a long search": "select instr(hex(zeroblob(400000)), hex(zeroblob(200000)) || 'b')",
        "a long trim": "select trim(hex(zeroblob(400000)), hex(randomblob(200000)) || '1')",
        "deep brackets": "select " + "(" * 900 + "1" + ")" * 900,
        "many terms": "select 1" + "+1" * 1900,
        "many unions": " union all ".join(["select 1"] * 180),
        "many columns": "select " + ",".join(["1"] * 1900),
        "deep JSON": "select json('" + "[" * 1800 + "]" * 1800 + "')",
        "a window over a product": "select sum(1) over (order by a.residual) from check_cell a, check_cell b",
    }
    for number, (name, sql) in enumerate(bombs.items()):
        # The form of an answer is decided after the query, so each bomb need not go off in all three.
        for ending in (".json", ("", ".csv")[number % 2]):
            yield Hostile(
                f"bomb {name}{ending}", f"/jointable{ending}?sql={quote(sql)}", status=(200, 400, 503)
            )
    for sql in (
        "attach database '/etc/passwd' as p",
        "attach 'file:/tmp/x.db?mode=rwc' as p",
        "select * from pragma_database_list()",
        "select * from pragma_database_list",
        "pragma database_list",
        "select * from pragma_compile_options",
        "pragma writable_schema=1",
        "pragma hard_heap_limit=999999999",
        "pragma query_only=0",
        "select load_extension('/tmp/x')",
        "select readfile('/etc/passwd')",
        "select writefile('/tmp/x', 'y')",
        "select fts3_tokenizer('simple')",
        "select edit('a')",
        "insert into box select * from box",
        "update box set volume_in3 = 99",
        "delete from box",
        "drop table box",
        "create table t(x)",
        "create temp table t(x)",
        "with x as (select 1) delete from box",
        "select 1; drop table box",
        "explain delete from box",
        "vacuum into '/tmp/x.db'",
        "reindex",
        "begin; select 1",
        "select * from read_csv('/etc/passwd')",
        "copy box to '/tmp/x'",
        "install httpfs",
        "from box",
        "select",
        "select * from no_such_table",
        "select no_such_column from box",
        "select * from box where edition = :edition and",
        "select '\x00'",
        "select \ud83d",
        ";",
        "''",
        "--",
        "/*",
        "\\",
        "%",
        "select 1 where 1=cast(x'ff' as integer) and abs(-9223372036854775808)",
    ):
        coded = quote(sql, errors="surrogatepass")
        yield Hostile(f"SQL {sql[:50]!r}", f"/jointable?sql={coded}", status=(200, 400, 403))
        yield Hostile(f"SQL JSON {sql[:50]!r}", f"/jointable.json?sql={coded}", status=(200, 400, 403))


def _tables() -> Iterator[Hostile]:
    for query in (
        "_size=-1",
        "_size=99999999",
        "_size=x",
        "_next=x",
        "_next=%00",
        "_next=1,2,3,4,5",
        "_sort=no_such_column",
        "_sort=edition&_sort_desc=edition",
        "_sort=edition;drop",
        "_where=1=1)%20union%20select%20*%20from%20source--",
        "_where=1=(with%20recursive%20c(x)%20as%20(select%201%20union%20all%20select%20x%2B1%20from%20c)%20select%20count(*)%20from%20c)",
        "_facet=no_such_column",
        "_facet_array=edition",
        "_facet_date=edition",
        "_facet_size=x",
        "_facet_size=-5",
        "_timelimit=x",
        "_timelimit=0",
        "_timelimit=99999999",
        "_ttl=x",
        "_trace=1",
        "_context=1",
        "_shape=x",
        "_shape=object",
        "_nl=on",
        "_json=edition",
        "_labels=x",
        "_label=x",
        "_extra=x",
        "_col=no_such_column",
        "_nocol=edition",
        "_through=%7B%7D",
        "_through=x",
        "_search=x",
        "_searchmode=raw&_search=%22",
        "_filter_column=edition&_filter_op=x&_filter_value=1",
        "_filter_column_1=edition&_filter_op_1=exact",
        "edition__like=" + "%25a" * 60,
        "edition__glob=" + "*a" * 60,
        "edition__in=" + ",".join(["x"] * 500),
        "edition__regexp=(a%2B)%2B%24",
        "edition__no_such=1",
        "edition__date=x",
        "edition__arraycontains=x",
        "no_such_column=1",
        "edition=" + quote(SCRIPT),
        quote(SCRIPT) + "=1",
        "&&&&====",
        "a" * 300 + "=1",
        "edition=%ff%fe",
        "edition=%F0%9F%98%80",
    ):
        for ending in ("", ".json"):
            yield Hostile(
                f"table{ending} {query[:50]}", f"/jointable/box{ending}?{query}", status=(200, 302, 400)
            )
    yield Hostile("all rows as CSV", "/jointable/check_cell.csv?_stream=1&_size=max", status=(200, 400, 503))
    yield Hostile("a trace of CSV", "/jointable/box.csv?_trace=1", status=(200, 400))
    yield Hostile("a blob of no column", "/jointable/box.blob?_blob_column=x", status=(400, 404))
    yield Hostile("a query with no value", "/jointable/boxes_for_volume?volume_in3=x", status=(200, 400))
    yield Hostile(
        "a query with a magic name",
        "/jointable/boxes_for_volume?_header_host=x&_now_epoch=1",
        status=(200, 400),
    )


def _questions() -> Iterator[Hostile]:
    texts = (
        SCRIPT,
        '"><img src=x onerror=alert(1)>',
        "'; drop table box; --",
        "{{7*7}}",
        "{% for x in ().__class__.__bases__ %}",
        "${jndi:ldap://x}",
        "../../etc/passwd",
        "file:///etc/passwd",
        "http://127.0.0.1/",
        "\x00",
        "\u202e3x12",
        "３x１２",
        "9" * 400 + "x12",
        "3x" + "9" * 400,
        "-3x12",
        "0x12",
        "1e99x12",
        "3x12 + " * 200 + "1x12",
        "1x12+" * 400,
        "(" * 2000,
        "+" * 2000,
        "|" * 500,
        "3x12|" * 100,
        "24x14",
        "25x14",
        "24x40 AWG",
        "12x4/0 + 12x40",
        "1x2000 kcmil",
        "99999999999999999999x2.5mm2",
        "3x1e308 mm2",
        "NaNx12",
        "3xNaN",
        " ",
        "\n\n\n",
        "a" * 3500,
    )
    for text in texts:
        coded = quote(text)
        for path in (
            f"/joint?conductors={coded}",
            f"/joint.json?conductors={coded}",
            f"/box.json?items={coded}",
        ):
            # The largest joints take long; on a machine that is busy otherwise they may be turned away.
            status = (200, 400, 503) if text[:2] in ("24", "25", "12") else (200, 400, 414)
            yield Hostile(f"{path[:12]} {text[:30]!r}", path, status=status)
    for query in (
        "size=16&size=16",
        "size=",
        "size=-1",
        "size=1e400",
        "size=16&family=" + quote(SCRIPT),
        "size=16&family=screw clamp&ways=999999",
        "size=16&grip=x",
        "sise=16",
    ):
        yield Hostile(f"range {query[:40]}", f"/range.json?{query.replace(' ', '+')}", status=(400,))
    for query in (
        "table=box",
        "table=sqlite_master&key=x&column=sql",
        "table=provenance&key=x&column=value",
        'table="&key="&column="',
        "table=box&key=x&column=volume_in3",
        'table=box&key="unclosed&column=volume_in3',
        "table=box&key=nec-2023,4 x 1-1/2 square&column=box",
        "table=box&key=nec-2023,4 x 1-1/2 square&column=volume_in3;drop",
        "table=duckdb_settings()&key=x&column=value",
        "table=" + quote(SCRIPT) + "&key=a&column=b",
        "table=box&key=" + "," * 2000 + "&column=volume_in3",
    ):
        yield Hostile(f"trace {query[:40]}", "/trace.json?" + quote(query, safe="=&,%"), status=(400,))
        yield Hostile(f"trace page {query[:40]}", "/trace?" + quote(query, safe="=&,%"), status=(400,))
    yield Hostile(
        "an edition that is none",
        "/box.json?edition=nec-1066&items=box+18+in3%0A2+conductor+12",
        status=(400,),
    )
    yield Hostile("a box of 500 lines", "/box.json?items=" + quote("clamp;" * 500), status=(200, 400))
    yield Hostile(
        "a very full box", "/box.json?items=" + quote("box 18 in3\n9999 conductor 14"), status=(200, 400)
    )
    yield Hostile(
        "too many", "/box.json?items=" + quote("box 18 in3\n99999999999 conductor 14"), status=(400,)
    )
    yield Hostile("a parameter twice", "/joint.json?conductors=3x12&conductors=2x12", status=(400,))
    yield Hostile("no parameter", "/joint.json", status=(400,))
    yield Hostile(
        "a hundred parameters", "/joint.json?" + "&".join(f"a{n}=1" for n in range(100)), status=(400,)
    )
    yield Hostile("audit with a query", "/audit?x=1", status=(400,))


def _bodies() -> Iterator[Hostile]:
    form = {"content-type": "application/x-www-form-urlencoded"}
    yield Hostile("two megabytes", "/stock.json", "POST", b"schedule=" + b"a" * 2_097_152, form, (413,))
    yield Hostile("a length that lies upward", "/stock", "POST", b"x", {**form, "x-note": "n"}, (400,))
    yield Hostile("no form", "/stock.json", "POST", b"{}", {"content-type": "application/json"}, (400,))
    yield Hostile(
        "XML", "/box.json", "POST", b"<!DOCTYPE x [<!ENTITY a 'b'>]>", {"content-type": "text/xml"}, (400,)
    )
    yield Hostile("no boundary", "/stock.json", "POST", b"x", {"content-type": "multipart/form-data"}, (400,))
    yield Hostile("not UTF-8", "/stock.json", "POST", b"schedule=%ff%fe", form, (400,))
    yield Hostile("raw bytes", "/stock.json", "POST", bytes(range(256)), form, (400,))
    yield Hostile(
        "many fields", "/stock.json", "POST", b"&".join(b"a%d=1" % n for n in range(1000)), form, (400,)
    )
    rows = "box,item,size,quantity,joint\n" + "A,conductor,12,2,L\n" * 20_000
    for path in ("/stock.json", "/stock"):
        yield Hostile(
            f"20,000 rows {path}",
            path,
            "POST",
            ("schedule=" + quote(rows)).encode()[:1_048_000],
            form,
            (400,),
        )
    kinds = "box,item,size,quantity,joint\n" + "".join(
        f"b{n},conductor,{2 * (n % 9) + 6},{n % 5 + 2},j{n}\n" for n in range(3000)
    )
    yield Hostile(
        "3,000 joints", "/stock.json", "POST", ("schedule=" + quote(kinds)).encode(), form, (200, 400)
    )
    marked = f"box,item,size,quantity,joint\n{SCRIPT},conductor,12,2,{SCRIPT}\n"
    yield Hostile(
        "script in a schedule", "/stock", "POST", ("schedule=" + quote(marked)).encode(), form, (200, 400)
    )
    many = b"--x\r\n" + b'content-disposition: form-data; name="a"\r\n\r\n1\r\n--x\r\n' * 2000
    yield Hostile(
        "many parts", "/stock.json", "POST", many, {"content-type": "multipart/form-data; boundary=x"}, (400,)
    )
    file = (
        b'--x\r\ncontent-disposition: form-data; name="file"; filename="../../a.csv"\r\n'
        b"content-type: text/csv\r\n\r\n=cmd|' /C calc'!A0\r\n--x--\r\n"
    )
    yield Hostile(
        "a file that is none",
        "/stock",
        "POST",
        file,
        {"content-type": "multipart/form-data; boundary=x"},
        (400,),
    )
    twice = file.replace(b"--x--", file)
    multipart = {"content-type": "multipart/form-data; boundary=x"}
    yield Hostile("two files", "/stock", "POST", twice, multipart, (400,))
    field = b'--x\r\ncontent-disposition: form-data; name="spare"\r\n\r\n1\r\n'
    yield Hostile("a field twice", "/stock.json", "POST", field * 2 + b"--x--\r\n", multipart, (400,))
    yield Hostile("a query beside a body", "/stock.json?family=twist-on", "POST", b"schedule=x", form, (400,))


def _headers() -> Iterator[Hostile]:
    page = "/jointable/box?_size=2"
    yield Hostile("a host that is none", page, headers={"host": "evil.example"}, status=(200, 400))
    yield Hostile("a host with script", page, headers={"host": "<script>"}, status=(400,))
    yield Hostile("a host of letters that are none", page, headers={"host": "\xff\xfe"}, status=(400,))
    yield Hostile("no path", "*", "OPTIONS", status=(400, 405))
    yield Hostile("a cookie", page, headers={"cookie": "ds_actor=x; ds_messages=y"}, status=(200,))
    yield Hostile("a token", page, headers={"authorization": "Bearer root"}, status=(200,))
    yield Hostile("an origin", page, headers={"origin": "https://evil.example"}, status=(200,))
    yield Hostile("a long header", page, headers={"x-long": "a" * 8000}, status=(200, 400, 431))
    yield Hostile("many headers", page, headers={f"x-{n}": "a" for n in range(90)}, status=(200, 400, 431))
    yield Hostile(
        "a range", "/downloads/jointable.sqlite", headers={"range": "bytes=0-9999999999"}, status=(200,)
    )
    yield Hostile("a method in a header", page, headers={"x-http-method-override": "DELETE"}, status=(200,))
    yield Hostile(
        "forwarded",
        page,
        headers={"x-forwarded-for": "1.2.3.4", "x-original-url": "/-/settings"},
        status=(200,),
    )
