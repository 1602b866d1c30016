"""Every limit of the explorer in one place, with the reason for it."""

from __future__ import annotations

import ctypes
import resource
import signal
import sys

__all__ = ["die_with_parent", "limit_memory"]

#: Characters of a query string, decoded: enough for a box of some eighty lines.
QUERY_CHARACTERS = 4_096
#: Bytes of an address with its query as sent; percent-encoding takes up to twelve bytes a character.
ADDRESS_BYTES = 51_200
#: Bytes of a request body: a schedule of some ten thousand rows.
BODY_BYTES = 1_048_576
#: Seconds to wait for the body of a request.
BODY_SECONDS = 5.0
#: Rows of a schedule that is asked about in a page; larger ones are for the command line.
SCHEDULE_ROWS = 5_000
#: Boxes of a plan in a page: each is drawn and has a table of everything in it.
PLAN_BOXES = 30

#: Seconds a request may wait for a worker; beyond, the server is overloaded and says so.
WAIT_SECONDS = 0.7
#: Seconds that an answer from the library may take.
ANSWER_SECONDS = 1.7
#: Questions that are asked in one message; how long each waits to be taken, beyond which all are busy, and, since it
#: came, for its answer once it was taken; and after which time of answering the rest are put off to the next.
TOGETHER = {"joint": 32, "box": 32}
TOGETHER_WAIT = 0.6
TOGETHER_SECONDS = 0.95
TOGETHER_ANSWERING = 0.35
#: Seconds for which the first after a message in company waits for more: what a server of one core needs to
#: send the answers out and to read the next questions.
TOGETHER_GATHERING = 0.03
#: Conductors of a joint beyond which it is answered alone: its bundle is searched.
TOGETHER_CONDUCTORS = 6
#: Seconds after which nothing more is looked up beside the fill of a box.
BESIDE_SECONDS = 1.1
#: Seconds after which the drawing of a bundle is left out of the page of a joint.
DRAWING_SECONDS = 1.1
#: Seconds that a whole request may take.
REQUEST_SECONDS = 1.9
#: Requests at once; one more is turned away.
REQUESTS = 96

#: Milliseconds, rows and bytes of one query in SQL.
SQL_MILLISECONDS = 1_000
SQL_ROWS = 1_000
SQL_BYTES = 4_194_304
#: Bytes of the heap that SQLite may use in a worker.
SQL_HEAP = 100_663_296

#: Address space of each process. A database's own limit does not hold against every query: a sort, a
#: long text built in one step or a parser may allocate beside it.
SQL_MEMORY = 201_326_592
ANSWER_MEMORY = 1_610_612_736
SERVER_MEMORY = 2_147_483_648

_PR_SET_PDEATHSIG = 1


def limit_memory(size: int) -> None:
    """Limit the address space of this process, if it is not limited more already.

    Args:
        size: Bytes.
    """
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    ceiling = size if hard == resource.RLIM_INFINITY else min(size, hard)
    resource.setrlimit(resource.RLIMIT_AS, (ceiling, ceiling))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def die_with_parent() -> None:
    """Ask the kernel to end this process when the one that started it ends (Linux only)."""
    if sys.platform == "linux":
        ctypes.CDLL(None, use_errno=True).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
