"""`manage.py bench_layout_table`: how long a frame takes while a piece is dragged in a browser."""

from __future__ import annotations

import json
import random
import shutil
from argparse import ArgumentParser
from collections.abc import Sequence
from typing import Any

import shapely
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from shapely.geometry import Polygon

from studio.core.verifying.sides import sides_of
from studio.loading.dragging import Dragged, NoTable, dragged, slowed, spread
from studio.loading.full_sheet import (
    HIGH_MM,
    PIECES,
    SHEET,
    WIDE_MM,
    lobed,
    path_across,
    spots,
)
from studio.loading.installation import Unmeasured, installation
from studio.loading.talking import HOME

MOST_MS = 50.0
LOADED_MS = 10.0
"""A frame in which nothing is done takes a millisecond; one that takes so long had to wait."""
PLACE = "http://modules.test/"
RULES = {
    "kerf_mm": 0.3,
    "gap_mm": 1.0,
    "shared_mm": 0.5,
    "straight_min_mm": 8.0,
    "edge_gap_mm": 1.5,
}
FLAGS = ("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
SCREEN = {"width": 1280, "height": 900}

# One step of the pointer a frame. A frame is what lies between the browser's call and the picture
# on the screen; without a page of its own the picture is drawn here, as plainly as can be.
DRAG = """async ({ state, dragged, path, reach, warm }) => {
  const { Bench } = await import("./layouts/geometry/bench.js");
  const bench = new Bench(state.rules, state.metal, state.pieces);
  const asked = performance.now();
  bench.set(state.placements);
  const own = state.placements.find((p) => p.piece === dragged);
  bench.hold(own.piece, own.copy).towards(own, { reach_mm: reach });
  const first = performance.now() - asked;
  const paths = new Map(state.pieces.map((piece) => [
    piece.id,
    "M" + piece.rings.map((ring) => ring.map(([x, y]) => `${x} ${y}`).join("L") + "Z").join("M"),
  ]));
  const lay = ({ x_mm, y_mm, turn_deg }) => `translate(${x_mm} ${y_mm}) rotate(${turn_deg})`;
  const picture = document.querySelector("svg");
  picture.innerHTML = state.placements.map((p) =>
    `<path id="${p.piece}" d="${paths.get(p.piece)}" transform="${lay(p)}"/>`).join("");
  const drawn = document.getElementById(dragged);
  const painted = new MessageChannel();
  const frames = [];
  const moves = [];
  const drag = async (steps) => {
    const held = bench.hold(own.piece, own.copy);
    for (const [x_mm, y_mm] of steps) {
      await new Promise((done) => {
        requestAnimationFrame(() => {
          const begun = performance.now();
          const place = held.towards({ ...own, x_mm, y_mm }, { reach_mm: reach });
          moves.push(performance.now() - begun);
          drawn.setAttribute("transform", lay(place));
          painted.port1.onmessage = () => {
            frames.push(performance.now() - begun);
            done();
          };
          painted.port2.postMessage(0);
        });
      });
    }
  };
  await drag(path.slice(0, warm));
  frames.length = moves.length = 0;
  await drag(path);
  return { frames, moves, first };
}"""


class Command(BaseCommand):
    """Processor time without slowing, times the slowing, is what a loaded machine leaves true."""

    help = (
        "Starts an installation of its own with a layout of 40 pieces of 280 points on a full "
        "sheet, drags pieces on its layout table in Chromium, slowed down, and prints how long "
        "the page is busy for a frame: while dragging, on taking a piece up, on letting it go; and "
        "when the figures are there. --geometry: the modules alone, on a page with nothing else. "
        "--address: a layout table that is served already."
    )
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--steps", type=int, default=300, help="steps of the pointer (300)")
        parser.add_argument("--grabs", type=int, default=8, help="pieces that are taken up (8)")
        parser.add_argument("--slow", type=float, default=4.0, help="so many times slower (4)")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--geometry", action="store_true", help="the modules alone")
        parser.add_argument(
            "--reach", type=float, default=2.0, help="with --geometry: how near it catches, mm (2)"
        )
        parser.add_argument("--address", help="a layout table's page where somebody may lay pieces")
        parser.add_argument("--username", help="who signs in there")
        parser.add_argument("--passphrase", help="and with what")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            from playwright.sync_api import sync_playwright
        except ImportError:
            raise CommandError(
                "This needs Playwright, of the dependency group dev (pyproject.toml)."
            ) from None
        chromium = shutil.which("chromium") or shutil.which("chromium-browser")
        if chromium is None:
            raise CommandError("This needs Chromium, and none is installed here.")
        if not 1 <= options["steps"] <= 100_000 or not 1.0 <= options["slow"] <= 50.0:
            raise CommandError("--steps: 1 to 100,000; --slow: 1 to 50")
        if not 1 <= options["grabs"] <= PIECES:
            raise CommandError(f"--grabs: 1 to {PIECES}")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
            try:
                if options["geometry"]:
                    self._geometry(browser, options)
                elif options["address"]:
                    self._page(browser, options, options["address"], None)
                else:
                    self._own_page(browser, options)
            except (NoTable, Unmeasured) as error:
                raise CommandError(f"Nothing was measured: {error}.", returncode=2) from error
            finally:
                browser.close()

    def _geometry(self, browser: Any, options: dict[str, Any]) -> None:
        found = on_the_geometry(browser.new_page(viewport=SCREEN), options)
        self.stdout.write(f"the first hold, from nothing: {found['first']:.1f} ms")
        self._told("towards", found["moves"])
        self._told("frames", found["frames"])

    def _own_page(self, browser: Any, options: dict[str, Any]) -> None:
        with installation("", placing_seconds=10) as own:
            one = own.made("studio.loading.laid_out")
            with own.served() as server:
                address = f"http://{HOME}:{server.port}"
                self._page(browser, options, f"{address}{one['path']}", one["cookie"])

    def _page(
        self, browser: Any, options: dict[str, Any], address: str, cookie: str | None
    ) -> None:
        asked = {name: options[name] for name in ("steps", "grabs", "seed")}
        slow = options["slow"]
        for times in dict.fromkeys((1.0, slow)):
            context = browser.new_context(viewport=SCREEN)
            if cookie:
                name, value = cookie.split("=", 1)
                context.add_cookies([{"name": name, "value": value, "url": address}])
            page = context.new_page()
            if options["username"]:
                _sign_in(page, address, options)
            found = dragged(page, address, slow=times, **asked)
            self._told_all(found, times, slow)
            context.close()

    def _told_all(self, found: Dragged, times: float, slow: float) -> None:
        slowing = f"Slowed {times:g} times" if times > 1 else "Not slowed"
        self.stdout.write(f"{slowing}:")
        empty = max(one.busy_ms for one in found.empty)
        for name, frames in (
            ("an empty page", found.empty),
            ("dragging", found.frames),
            ("taking up", found.grabs),
            ("letting go", found.drops),
        ):
            self._told(f"  {name}", [one.busy_ms for one in frames], empty)
            if times == 1.0:
                processor = [one.processor_ms * slow for one in frames]
                self._told(f"  {name}, processor time × {slow:g}", processor)
        half, p95, worst = spread(found.answers_ms)
        self.stdout.write(
            f"  figures after letting go: median {half:.0f} ms, p95 {p95:.0f} ms, "
            f"worst {worst:.0f} ms"
        )
        if empty > LOADED_MS * times:
            self.stdout.write("  The machine is loaded: only the processor time says something.")

    def _told(self, what: str, each: Sequence[float], empty: float = 0.0) -> None:
        half, p95, worst = spread(each)
        beside = f", {worst / empty:.1f} times the worst of an empty page" if empty else ""
        self.stdout.write(
            f"{what}: {len(each)}; median {half:.1f} ms, p95 {p95:.1f} ms, "
            f"worst {worst:.1f} ms = {worst / MOST_MS:.2f} of {MOST_MS:g} ms{beside}"
        )


def _sign_in(page: Any, address: str, options: dict[str, Any]) -> None:
    page.goto(address)
    page.locator("[name=username]").fill(options["username"])
    page.locator("[name=password]").fill(options["passphrase"] or "")
    page.locator("[name=password]").press("Enter")
    page.wait_for_load_state()


def on_the_geometry(page: Any, options: dict[str, Any]) -> dict[str, Any]:
    """How long each frame and each move takes, in ms, on a page with the modules alone."""
    chance = random.Random(options["seed"])  # noqa: S311 - for a benchmark

    def answer(route: Any) -> None:
        name = route.request.url.removeprefix(PLACE)
        if name:
            route.fulfill(path=settings.BASE_DIR / "static" / "js" / name)
        else:
            body = '<svg viewBox="0 0 305 153" width="1220" height="612" fill="#a86"></svg>'
            route.fulfill(body=f"<!doctype html>{body}", content_type="text/html; charset=utf-8")

    page.route(f"{PLACE}**", answer)
    page.goto(PLACE)
    slowed(page.context.new_cdp_session(page), options["slow"])
    state = full_sheet(chance)
    asked = {
        "state": state,
        "dragged": state["pieces"][chance.randrange(len(state["pieces"]))]["id"],
        "path": path_across(chance, options["steps"], (WIDE_MM, HIGH_MM), 4.0),
        "reach": options["reach"],
        "warm": min(30, options["steps"]),
    }
    found: dict[str, Any] = page.evaluate(DRAG, asked)
    return found


def full_sheet(chance: random.Random) -> dict[str, Any]:
    """The state of a table: a sheet full of lobed pieces, every third with a straight side."""
    edges = segments(SHEET)
    sheet = {
        "id": "S1",
        "rings": [rings(SHEET)],
        "clean": edges,
        "clean_runs": sides_of(SHEET, RULES["straight_min_mm"]).runs.tolist(),
        "rough": [],
        "grain_deg": None,
    }
    pieces, placements = [], []
    for number, spot in enumerate(spots(chance)):
        outline = lobed(number)
        name = f"p{number}"
        pieces.append(
            {
                "id": name,
                "count": 1,
                "rings": rings(outline),
                "runs": sides_of(outline, RULES["straight_min_mm"]).runs.tolist(),
                "mirrored_runs": [],
                "may_mirror": False,
                "turns_deg": None,
                "grain_deg": None,
            }
        )
        placements.append({"piece": name, "copy": 0, "metal": "S1"} | spot)
    state = {"rules": RULES, "metal": [sheet], "pieces": pieces, "placements": placements}
    return dict(json.loads(json.dumps(state)))


def rings(polygon: Polygon) -> list[list[list[float]]]:
    every = (polygon.exterior, *polygon.interiors)
    return [shapely.get_coordinates(ring)[:-1].tolist() for ring in every]


def segments(polygon: Polygon) -> list[list[float]]:
    (ring,) = rings(polygon)
    return [[*a, *b] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)]
