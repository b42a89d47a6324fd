"""The live view as a page: read-only, on the loopback address, without scripts."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import zip_longest
from typing import TYPE_CHECKING, Final

import click

from cablewalk.cli.asrun_common import Fail
from cablewalk.cli.asrun_now_page import (
    IMPOSSIBLE,
    TO_COME,
    by_urgency,
    dark_already,
    down_title,
    entry_line,
    impossible_line,
    is_over,
    late,
    next_trouble,
    not_begun,
    recovers,
    to_come_line,
)
from cablewalk.cli.phrases import PREDICTED, h_mm, left_h_mm, used_h_mm
from cablewalk.files.wording import inert

if TYPE_CHECKING:
    from cablewalk.reports.asrun_now import NowReport

LOOPBACK: Final = "127.0.0.1"
_HEADERS: Final = (
    ("Cache-Control", "no-store"),
    ("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; "
                                "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
)  # fmt: skip
_STYLE: Final = """
body{font:1.25rem/1.4 system-ui,sans-serif;margin:1.5rem;color:#111;background:#fff}
h1{font-size:3rem;margin:0}h2{font-size:1.5rem;margin:1.5rem 0 .3rem;border-bottom:2px solid #111}
table{border-collapse:collapse;width:100%}th,td{text-align:left;padding:.2rem .8rem .2rem 0;
vertical-align:top;border-bottom:1px solid #bbb;overflow-wrap:anywhere}
th,td[data-head=Clock],td[data-head=Left]{white-space:nowrap}td{min-width:4rem}
.tag{font-weight:bold;border:2px solid #111;padding:0 .4rem;overflow-wrap:normal}
.loud .tag{background:#111;color:#fff}.quiet{color:#555}p{overflow-wrap:anywhere}
@media(max-width:50rem){body{margin:.6rem;font-size:1rem}h1{font-size:2rem}h2{font-size:1.2rem}
table,tbody,tr,td{display:block}tr.heads{display:none}
tr{border-bottom:2px solid #bbb;padding:.3rem 0}
td{border:0;padding:.1rem 0}td:empty{display:none}
td[data-head]:before{content:attr(data-head) ': ';color:#555}}
""".strip()


def serve(
    report: Callable[[], NowReport],
    port: int,
    every: float,
    ready: Callable[[str], None],
    stop: threading.Event | None = None,
) -> None:
    """Serve the page until interrupted, or until ``stop`` is set.

    Args:
        report: makes the report anew.
        port: 0 takes any that is free.
        every: seconds after which the page asks again.
        ready: told the page's address once it can be reached.
    """
    from cablewalk.reports.text import report_json

    lock = threading.Lock()

    class Handler(BaseHTTPRequestHandler):
        server_version, sys_version = "cablewalk", ""

        def do_GET(self) -> None:
            self._answer(body=True)

        def do_HEAD(self) -> None:
            self._answer(body=False)

        def _answer(self, body: bool) -> None:
            host = self.headers.get("Host", "").rpartition(":")[0]
            if host not in (LOOPBACK, "localhost"):
                # A page elsewhere that got its name pointed here must not read the log.
                self._send(403, "text/plain", "only for this machine\n", body)
                return
            path = self.path.partition("?")[0]
            if path not in ("/", "/now.json"):
                self._send(404, "text/plain", "there is / and /now.json\n", body)
                return
            try:
                with lock:
                    now = report()
            except click.ClickException as problem:
                self._send(500, "text/plain", f"{problem.format_message()}\n", body)
                return
            if path == "/":
                self._send(200, "text/html", html_of(now, every), body)
            else:
                self._send(200, "application/json", report_json(now), body)

        def _send(self, status: int, kind: str, text: str, body: bool) -> None:
            raw = text.encode()
            self.send_response(status)
            self.send_header("Content-Type", f"{kind}; charset=utf-8")
            self.send_header("Content-Length", str(len(raw)))
            for name, value in _HEADERS:
                self.send_header(name, value)
            self.end_headers()
            if body:
                self.wfile.write(raw)

        def log_message(self, format: str, *args: object) -> None:
            """Say nothing: the terminal is for the address alone."""

    try:
        server = ThreadingHTTPServer((LOOPBACK, port), Handler)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise Fail(f"port {port} of {LOOPBACK} cannot be used: {reason}") from error
    server.daemon_threads = True
    with server:
        ready(f"http://{LOOPBACK}:{server.server_address[1]}/")
        if stop is not None:
            threading.Thread(target=_end, args=(server, stop), daemon=True).start()
        server.serve_forever(poll_interval=0.2)


def _end(server: ThreadingHTTPServer, stop: threading.Event) -> None:
    stop.wait()
    server.shutdown()


def html_of(report: NowReport, every: float) -> str:
    """Return the page."""
    log = report.log
    parts = [
        "<!DOCTYPE html><html lang='en'><head><meta charset='utf-8'>",
        "<meta name='viewport' content='width=device-width,initial-scale=1'>",
        f"<meta http-equiv='refresh' content='{max(1, round(every))}'>",
        f"<title>{_e(log.phase)} PET {_e(report.now_pet)}</title><style>{_STYLE}</style></head>",
        f"<body><h1>PET {_e(report.now_pet)}</h1>",
        f"<p>{_e(log.phase)} on {_e(log.baseline)}, {_e(report.now_utc)}; {report.actions_over} of "
        f"{report.actions_planned} planned actions over; {log.events} events</p>",
    ]
    parts += [f"<p class='loud'><span class='tag'>DAMAGED</span> {_e(f)}</p>" for f in log.damage]
    parts += [_down(report), _impossible(report)]
    if report.to_come:
        coming = [(_e(to_come_line(report, finding)),) for finding in report.to_come]
        parts.append(_table(TO_COME.capitalize(), (), coming, "loud"))
    parts.append(_actors(report))
    if report.not_whole:
        rows = [(f"<span class='tag'>{_e(r.state.upper())}</span>", _e(f"{r.service} ({r.kind})"))
                for r in report.not_whole]  # fmt: skip
        parts.append(_table("Up, but not whole or not proven", (), rows))
    for title, entries in (
        ("Tried, and not done", report.unfinished),
        ("Skipped", report.skipped),
        ("Open items", report.open_items),
        ("Last entries", tuple(reversed(report.last))),
    ):
        if entries:
            parts.append(_table(title, (), [(_e(entry_line(row)),) for row in entries]))
    loud = [f for f in report.findings if f.severity == "error"]
    if loud:
        parts.append(_table("Errors", (), [(_e(f"{f.rule}: {f.found}"),) for f in loud]))
    return "\n".join([*parts, "</body></html>\n"])


def _down(report: NowReport) -> str:
    if not report.down:
        return "<h2>Every service is up</h2>"
    rows = []
    for row in by_urgency(report.down):
        out = row.outage
        tag = "OVER" if is_over(row) else "WAIT" if row.reconnected else "DOWN"
        by = f"{row.reconnect_by_pet} ({row.reconnect_by_utc})" if row.reconnect_by_utc else ""
        before = f" ({dark_already(row, report.log.baseline)})" if row.since_before else ""
        rows.append((
            f"<span class='tag'>{tag}</span>",
            _e(f"{out.service} ({out.kind})"),
            _e(used_h_mm(row.dark_min) + before),
            "" if out.clock_min is None else _e(h_mm(out.clock_min)),
            "" if row.in_hand_min is None else _e(left_h_mm(row.in_hand_min)),
            _e(recovers(row) or by or not_begun(row)),
            _e(row.why),
        ))  # fmt: skip
    heads = ("", "Service", "Dark", "Clock", "Left", "Reconnect no later than", "Why")
    return (
        _table(down_title(report).capitalize(), heads, rows, "loud")
        + f"<p class='quiet'>{_e(PREDICTED)}</p>"
    )


def _impossible(report: NowReport) -> str:
    if not report.impossible:
        return ""
    heads = ("", "What", "Why", "Way out", "So too")
    rows = [
        (
            f"<span class='tag'>{'NEXT' if row.is_next else 'LATER'}</span>",
            *map(_e, (impossible_line(report, row), row.why, row.way_out, ", ".join(row.follows))),
        )
        for row in report.impossible
    ]
    return _table(IMPOSSIBLE.capitalize(), heads, rows, "loud")


def _actors(report: NowReport) -> str:
    rows = []
    for actor in report.actors:
        roles = f" ({', '.join(actor.roles)})" if actor.roles else ""
        coming = "nothing is left of the plan"
        if actor.next_step:
            waits = f" - waits for {', '.join(actor.waits_for)}" if actor.waits_for else ""
            coming = f"{actor.next_step}/{actor.next_action_number} {actor.next_text}{waits}"
        trouble = next_trouble(report, actor)
        mark = f" <span class='tag'>{_e(trouble)}</span>" if trouble else ""
        rows.append((
            _e(actor.person + roles), _e(actor.place or "-"), _e(" ".join(actor.holds)),
            _e(late(actor.behind_min)), _e(coming) + mark,
        ))  # fmt: skip
    return _table("Who, and what comes next", ("Who", "Where", "Holds", "Plan", "Next"), rows)


def _table(
    title: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]], kind: str = ""
) -> str:
    """Return a heading and a table; the cells are HTML already.

    On a narrow screen the cells stand beneath one another, each with its head before it.
    """
    head = "".join(f"<th>{_e(h)}</th>" for h in heads)
    marks = [f" data-head='{_e(h)}'" if h else "" for h in heads]
    cells = ["".join(f"<td{m}>{c}</td>" for m, c in zip_longest(marks, row, fillvalue=""))
             for row in rows]  # fmt: skip
    body = "".join(f"<tr>{row}</tr>" for row in cells)
    lead = f"<tr class='heads'>{head}</tr>" if heads else ""
    return f"<h2>{_e(title)}</h2><table class='{kind}'>{lead}{body}</table>"


def _e(text: str) -> str:
    return escape(inert(text))
