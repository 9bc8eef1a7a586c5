"""Work spread over processes of this computer, or over those of a Dask scheduler. Only texts go out and come back."""

from __future__ import annotations

import logging
import tempfile
import uuid
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from mountproof.case.text_file import CASE_FILE
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.registry.one import PROGRAM, Given, digest_of, fault_text, given_by, given_by_many
from mountproof.version import VERSION

if TYPE_CHECKING:  # a second of import
    from distributed import Client

#: Cases in one piece of work: some tenths of a second, so that little is done twice where a worker dies.
_PIECE: Final = 8
#: Pieces under way for each worker: it never waits for the next one, and thousands of texts are not sent at once.
_AHEAD: Final = 3
_WAIT_S: Final = 60
#: Takes what came back, as soon as it is there.
Take = Callable[[Sequence[Given]], None]


class Crew(NamedTuple):
    """Who works: ``workers`` processes of this computer (0: this one), or a scheduler at an address."""

    workers: int
    scheduler: str = ""


def spread(texts: Sequence[bytes], crew: Crew, take: Take) -> int:
    """Work out every text and hand over what each gave, in any order; return how many were given up.

    A piece of work whose worker dies is begun again by another one. Where the next ones die as well, its cases are worked out
    after all others, each by itself and nothing beside it; one whose workers die then too is given up: it gives the fault
    ``registry.given_up``. FaultError ``registry.scheduler`` where nobody works there, ``registry.workers`` where a worker has
    another version of this program, or none. What ``take`` raises ends the work.
    """
    if not crew.scheduler and not crew.workers:
        for data in texts:
            take([given_by(data)])
        return 0
    with _client(crew) as client:
        return _through(client, texts, take)


def _through(client: Client, texts: Sequence[bytes], take: Take) -> int:
    from distributed import KilledWorker, as_completed

    pieces = deque(list(texts[at : at + _PIECE]) for at in range(0, len(texts), _PIECE))
    name, begun, given_up = uuid.uuid4().hex, 0, 0
    under_way: dict[str, list[bytes]] = {}
    # Who shares a worker with a case that takes it along is held against it as well: each of these goes alone.
    suspects: deque[bytes] = deque()
    alone = ""
    coming: Any = as_completed(loop=client.loop)  # type: ignore[no-untyped-call]

    def submit(piece: list[bytes]) -> str:
        nonlocal begun
        future: Any = client.submit(given_by_many, piece, key=f"registry-{name}-{begun}", pure=False)
        begun += 1
        under_way[future.key] = piece
        coming.add(future)
        return str(future.key)

    def begin() -> None:
        nonlocal alone
        ahead = _AHEAD * max(1, len(client.nthreads()))  # type: ignore[no-untyped-call]
        while pieces and len(under_way) < ahead:
            submit(pieces.popleft())
        if suspects and not under_way:
            alone = submit([suspects.popleft()])

    begin()
    for future in coming:
        piece = under_way.pop(future.key)
        try:
            take(_checked(future.result()))
        except KilledWorker:
            if future.key == alone:
                given_up += 1
                take([_given_up(piece[0])])
            else:
                suspects.extend(piece)
        except (ImportError, AttributeError) as error:
            _refuse_workers(type(error).__name__)
        begin()
    return given_up


def _given_up(data: bytes) -> Given:
    what = say("every process that worked on this case ended on the way")
    todo = say("Ask it by itself, into another registry: --workers 0 --to FILE")
    fault = Fault("registry.given_up", what, todo, CASE_FILE)
    return Given(PROGRAM, digest_of(data), "", None, fault_text(fault))


def _checked(back: list[tuple[Any, ...]]) -> list[Given]:
    given = [Given(*one) for one in back]
    for one in given:
        if one.program != PROGRAM:
            _refuse_workers(one.program)
    return given


def _refuse_workers(got: str) -> None:
    what = say("the workers do not have this version of the program")
    todo = say("Install version {version} where they run, then repeat this", version=VERSION)
    raise FaultError([Fault("registry.workers", what, todo, got=got, allowed=PROGRAM)])


@contextmanager
def _client(crew: Crew) -> Iterator[Client]:
    """Give a client of the scheduler that is named, or of one begun here that others cannot speak to."""
    from distributed import Client, LocalCluster, Security

    with ExitStack() as stack:
        for name in ("distributed", "tornado"):
            logger = logging.getLogger(name)
            stack.callback(logger.setLevel, logger.level)
            logger.setLevel(logging.CRITICAL)
        if crew.scheduler:
            client = _at(crew.scheduler)
            stack.callback(client.close)
            yield client
            return
        place = stack.enter_context(
            tempfile.TemporaryDirectory(prefix="mountproof-", ignore_cleanup_errors=True)
        )
        # Whoever speaks to a scheduler can run what he likes: keys of this run keep other users of the computer out.
        keys = Security.temporary()  # type: ignore[no-untyped-call]
        cluster: Any = LocalCluster(  # type: ignore[no-untyped-call]
            n_workers=crew.workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            protocol="tls://",
            security=keys,
            # Both serve pages however one asks; at least nobody else can open them. None would be every address.
            dashboard_address="127.0.0.1:0",
            worker_dashboard_address="127.0.0.1:0",
            local_directory=place,
            preload=["mountproof.surfaces.registry.worker"],
            memory_limit=0,
            silence_logs=logging.CRITICAL,
        )
        stack.callback(cluster.close)
        client = Client(cluster, set_as_default=False)  # type: ignore[no-untyped-call]
        stack.callback(client.close)
        yield client


def _at(address: str) -> Client:
    from distributed import Client

    try:
        client: Client = Client(address, timeout=_WAIT_S, set_as_default=False)  # type: ignore[no-untyped-call]
        client.wait_for_workers(1, timeout=_WAIT_S)
    except (OSError, TimeoutError, ValueError) as error:
        what = say("no Dask scheduler with workers answers here")
        todo = say(
            "Begin one with: dask scheduler, and workers with: dask worker ADDRESS; or leave --scheduler out"
        )
        raise FaultError([Fault("registry.scheduler", what, todo, address)]) from error
    return client
