"""What was fetched, kept as a WARC file (ISO 28500:2017, WARC 1.1): every byte and header, with hashes."""

from __future__ import annotations

import hashlib
import io
from datetime import UTC, datetime

from warcio.statusandheaders import StatusAndHeaders
from warcio.warcwriter import WARCWriter

from connectors.session import PROGRAM
from connectors.web_fetch import Fetched, Hop


def warc_file(fetched: Fetched, why: str) -> bytes:
    """Return the whole exchange as a gzipped WARC file, one gzip member a record.

    Per hop a response, its request, and metadata: why it was fetched, the hash of the
    certificate shown, and sha256 of the body beside the format's own sha1. The body is as
    sent, but for the framing of chunked sending, which is undone: its header is then kept
    under another name, so that no reader looks for chunks.
    """
    out = io.BytesIO()
    writer = WARCWriter(out, gzip=True, warc_version="1.1")
    facts = {"software": PROGRAM, "format": "WARC File Format 1.1", "robots": "kept to (RFC 9309)"}
    writer.write_record(writer.create_warcinfo_record("capture", facts))
    for hop in fetched.hops:
        _write_hop(writer, hop, why)
    return out.getvalue()


def _write_hop(writer: WARCWriter, hop: Hop, why: str) -> None:
    url, when = hop.address.url, {"WARC-Date": _moment(hop.at), "WARC-IP-Address": hop.ip}
    response = writer.create_warc_record(
        url,
        "response",
        payload=io.BytesIO(hop.raw),
        length=len(hop.raw),
        http_headers=StatusAndHeaders(f"{hop.status} {hop.reason}".strip(), _unchunked(hop), "HTTP/1.1"),
        warc_headers_dict=when,
    )
    request = writer.create_warc_record(
        url,
        "request",
        http_headers=StatusAndHeaders(
            f"GET {hop.address.target} HTTP/1.1", list(hop.sent), is_http_request=True
        ),
        warc_headers_dict=dict(when),
    )
    writer.write_request_response_pair(request, response)
    about = {
        "why": why,
        "sha256-of-body-as-sent": hashlib.sha256(hop.raw).hexdigest(),
        "sha256-of-certificate": hop.certificate or "none (plain http)",
    }
    lines = [f"{name}: {' '.join(value.split())}\r\n" for name, value in about.items()]
    text = "".join(lines).encode()
    writer.write_record(
        writer.create_warc_record(
            url,
            "metadata",
            payload=io.BytesIO(text),
            length=len(text),
            warc_content_type="application/warc-fields",
            warc_headers_dict={
                "WARC-Date": _moment(hop.at),
                "WARC-Concurrent-To": response.rec_headers.get_header("WARC-Record-ID"),
            },
        )
    )


def _unchunked(hop: Hop) -> list[tuple[str, str]]:
    aside = {"transfer-encoding": "X-Undone-Transfer-Encoding"}
    return [(aside.get(name.lower(), name), value) for name, value in hop.headers]


def _moment(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
