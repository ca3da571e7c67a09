"""`antedate review`: the matter in the browser, on this machine only."""

from __future__ import annotations

import socket
import threading
import webbrowser
from argparse import Namespace
from datetime import UTC, datetime

from pipeline.errors import AntedateError
from pipeline.matter import load_matter


def review(args: Namespace) -> int:
    """Serve the matter's pages on a loopback port until stopped."""
    import uvicorn

    from pipeline.review.app import create_app
    from pipeline.review.site import Settings

    matter = load_matter(args.matter)
    bound = _listen(args.port)
    port = bound.getsockname()[1]
    address = f"http://127.0.0.1:{port}/"
    print(f"the review page of {args.matter} is at {address} (Ctrl-C ends it)", flush=True)
    app = create_app(Settings(args.matter.resolve(), port, lambda: datetime.now(UTC), args.by))
    site = app.state.site
    threading.Thread(target=site.memory.warm, args=(matter, site.today), daemon=True).start()
    if not args.no_browser:
        # A browser of the terminal would not return before it is closed.
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False)
    uvicorn.Server(config).run(sockets=[bound])
    return 0


def _listen(port: int) -> socket.socket:
    """Return a socket that listens on loopback alone; port 0 is any free one."""
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        bound.bind(("127.0.0.1", port))
        bound.listen(128)
    except (OSError, OverflowError) as error:
        bound.close()
        raise AntedateError(
            f"port {port} can't be used: {error}. Leave --port out: a free one is taken."
        ) from None
    return bound
