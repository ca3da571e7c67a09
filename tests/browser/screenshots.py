"""Pictures of every page, light and dark, wide and narrow, into screenshots/ (not kept by git).

python tests/browser/screenshots.py [FOLDER]    the demo matter, made where FOLDER is not given
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
sys.path.insert(0, str(Path(__file__).parent))


def main(arguments: list[str]) -> None:
    """Take the pictures."""
    from conftest import FLAGS, serving  # this folder's own
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as place:
        folder = Path(arguments[0]) if arguments else Path(place) / "demo"
        if not arguments:
            subprocess.run([sys.executable, "-m", "pipeline.cli", "demo", str(folder)], cwd=ROOT, check=False)
        with serving(folder) as review, sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=list(FLAGS))
            for scheme in ("light", "dark"):
                for width in (1280, 390):
                    view = {"width": width, "height": 900}
                    page = chromium.new_context(viewport=view, color_scheme=scheme).new_page()
                    take_all(page, review.address.rstrip("/"), f"{scheme}-{width}")
            chromium.close()


def take_all(page: Any, address: str, suffix: str) -> None:
    """Take every page of the menu, and one of each kind that they lead to."""
    from pipeline.review.site import NAV

    page.goto(address)
    reference = page.locator("article.hit h2 a").nth(1).get_attribute("href")
    page.goto(address + reference)
    answer = page.locator('a[href^="/answer/"]').first.get_attribute("href")
    further = [reference, answer, "/?tag=all&kind=article&since=2015", "/?text=nothing+like+it", "/nowhere"]
    further += [f"/pictures/{name}" for name in ("timeline", "topics", "elements", "sources")]
    for path in [*(path for path, _ in NAV), *further]:
        page.goto(address + path)
        page.wait_for_timeout(200)
        name = re.sub(r"[^a-z0-9]+", "-", path.split("?from")[0].lower()).strip("-") or "hits"
        target = ROOT / "screenshots" / f"{name[:40]}-{suffix}.png"
        target.parent.mkdir(exist_ok=True)
        page.screenshot(path=str(target), full_page=True)
        print(target)


if __name__ == "__main__":
    main(sys.argv[1:])
