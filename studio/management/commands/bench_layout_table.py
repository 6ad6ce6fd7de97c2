"""`manage.py bench_layout_table`: how long a frame takes while a piece is dragged in a browser."""

from __future__ import annotations

import json
import math
import random
import shutil
from argparse import ArgumentParser
from collections.abc import Sequence
from typing import Any

import shapely
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from shapely.geometry import Polygon, box

from studio.core.verifying.sides import sides_of

MOST_MS = 50.0
PLACE = "http://modules.test/"
SHEET = box(0.0, 0.0, 305.0, 150.0)
COLUMNS, ROWS = 8, 5
POINTS = 280
RULES = {
    "kerf_mm": 0.3,
    "gap_mm": 1.0,
    "shared_mm": 0.5,
    "straight_min_mm": 8.0,
    "edge_gap_mm": 1.5,
}
FLAGS = ("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")

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

# The same on a page that is there: from one frame to the next, while the pointer is moved from
# outside. A screen shows one every 16.7 ms at best.
WATCH = """() => {
  window.benchFrames = [];
  let before = performance.now();
  const next = () => {
    const now = performance.now();
    window.benchFrames.push(now - before);
    before = now;
    requestAnimationFrame(next);
  };
  requestAnimationFrame(next);
}"""


class Command(BaseCommand):
    help = (
        "Drags one of 40 pieces of 280 points across a full sheet in Chromium, slowed down, and "
        "prints how long its frames take: the worst, 95 of 100, and as a share of 50 ms."
    )
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--steps", type=int, default=300, help="steps of the pointer (300)")
        parser.add_argument("--slow", type=float, default=4.0, help="so many times slower (4)")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--reach", type=float, default=2.0, help="how near it catches, mm (2)")
        parser.add_argument(
            "--address", help="instead: a layout table's page where somebody may lay pieces"
        )
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
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
            try:
                page = browser.new_page(viewport={"width": 1280, "height": 900})
                if options["address"]:
                    self._told("frames", on_the_page(page, options))
                else:
                    found = on_the_geometry(page, options)
                    self.stdout.write(f"the first hold, from nothing: {found['first']:.1f} ms")
                    self._told("towards", found["moves"])
                    self._told("frames", found["frames"])
            finally:
                browser.close()

    def _told(self, what: str, each: Sequence[float]) -> None:
        times = sorted(each)
        p95 = times[min(len(times) - 1, math.floor(0.95 * len(times)))]
        self.stdout.write(
            f"{what}: {len(times)}; median {times[len(times) // 2]:.1f} ms, p95 {p95:.1f} ms, "
            f"worst {times[-1]:.1f} ms = {times[-1] / MOST_MS:.2f} of {MOST_MS:g} ms"
        )


def on_the_geometry(page: Any, options: dict[str, Any]) -> dict[str, Any]:
    """How long each frame and each move takes, in ms, on a page with the modules alone."""
    chance = random.Random(options["seed"])  # noqa: S311 - for a benchmark

    def answer(route: Any) -> None:
        name = route.request.url.removeprefix(PLACE)
        if name:
            route.fulfill(path=settings.BASE_DIR / "static" / "js" / name)
        else:
            body = '<svg viewBox="0 0 305 150" width="1220" height="600" fill="#a86"></svg>'
            route.fulfill(body=f"<!doctype html>{body}", content_type="text/html; charset=utf-8")

    page.route(f"{PLACE}**", answer)
    page.goto(PLACE)
    slowed(page, options["slow"])
    state = full_sheet(chance)
    asked = {
        "state": state,
        "dragged": state["pieces"][chance.randrange(len(state["pieces"]))]["id"],
        "path": path_across(chance, options["steps"], (305.0, 150.0), 4.0),
        "reach": options["reach"],
        "warm": min(30, options["steps"]),
    }
    found: dict[str, Any] = page.evaluate(DRAG, asked)
    return found


def on_the_page(page: Any, options: dict[str, Any]) -> list[float]:
    """From frame to frame, in ms, while a piece is dragged on a layout table's own page."""
    page.goto(options["address"])
    if options["username"]:
        page.locator("[name=username]").fill(options["username"])
        page.locator("[name=passphrase]").fill(options["passphrase"] or "")
        page.locator("[name=passphrase]").press("Enter")
        page.wait_for_load_state()
        page.goto(options["address"])
    pieces = page.locator("svg [data-piece]")
    picture = page.locator("svg:has([data-piece])").first.bounding_box()
    if not pieces.count() or picture is None:
        raise CommandError("There is no layout table at that address, or nothing lies on it.")
    piece = pieces.nth(pieces.count() // 2).bounding_box()
    slowed(page, options["slow"])
    page.mouse.move(piece["x"] + piece["width"] / 2, piece["y"] + piece["height"] / 2)
    page.mouse.down()
    page.evaluate(WATCH)
    chance = random.Random(options["seed"])  # noqa: S311 - for a benchmark
    size = (picture["width"], picture["height"])
    for x, y in path_across(chance, options["steps"], size, 14.0):
        page.mouse.move(picture["x"] + x, picture["y"] + y)
    found: list[float] = page.evaluate("window.benchFrames.slice(2)")
    page.keyboard.press("Escape")
    page.mouse.up()
    return found


def slowed(page: Any, times: float) -> None:
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": times})


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
    for number in range(COLUMNS * ROWS):
        outline = lobed(number)
        runs = sides_of(outline, RULES["straight_min_mm"]).runs.tolist()
        name = f"p{number}"
        pieces.append(
            {
                "id": name,
                "count": 1,
                "rings": rings(outline),
                "runs": runs,
                "mirrored_runs": [],
                "may_mirror": False,
                "turns_deg": None,
                "grain_deg": None,
            }
        )
        placements.append(
            {
                "piece": name,
                "copy": 0,
                "metal": "S1",
                "mirror": False,
                "turn_deg": chance.uniform(0.0, 360.0),
                "x_mm": 19.0 + 37.5 * (number % COLUMNS),
                "y_mm": 16.0 + 29.5 * (number // COLUMNS),
            }
        )
    state = {"rules": RULES, "metal": [sheet], "pieces": pieces, "placements": placements}
    return dict(json.loads(json.dumps(state)))


def lobed(number: int) -> Polygon:
    points = []
    for k in range(POINTS):
        turn = math.tau * k / POINTS
        reach = 12.0 * (1.0 + 0.15 * math.cos((2 + number % 5) * turn))
        y = reach * math.sin(turn)
        points.append((reach * math.cos(turn), max(y, -7.0) if number % 3 == 0 else y))
    return Polygon(points)


def path_across(
    chance: random.Random, steps: int, size: tuple[float, float], step: float
) -> list[tuple[float, float]]:
    """A hand's way over a field: forward, now and then bending, turned back at the sides."""
    x, y, way = size[0] / 2, size[1] / 2, chance.uniform(0.0, math.tau)
    found = []
    for _ in range(steps):
        way += chance.uniform(-0.6, 0.6)
        x, y = x + step * math.cos(way), y + step * math.sin(way)
        if not 0.0 <= x <= size[0]:
            way = math.pi - way
        if not 0.0 <= y <= size[1]:
            way = -way
        x, y = min(max(x, 0.0), size[0]), min(max(y, 0.0), size[1])
        found.append((x, y))
    return found


def rings(polygon: Polygon) -> list[list[list[float]]]:
    every = (polygon.exterior, *polygon.interiors)
    return [shapely.get_coordinates(ring)[:-1].tolist() for ring in every]


def segments(polygon: Polygon) -> list[list[float]]:
    (ring,) = rings(polygon)
    return [[*a, *b] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)]
