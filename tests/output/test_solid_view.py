"""The 3-D view of the job sheet, in a real browser without a window: it turns, and the page prints."""

import base64
import io
import json
import re
import shutil

import manifold3d
import numpy as np
import pypdf
import pytest
from PIL import Image

from buckwright.forming.sheets.table import load_sheets
from buckwright.mesh.triangles import Mesh
from buckwright.output.job_sheet.fitting import fitted
from buckwright.output.job_sheet.page import JobWords, job_sheet_html
from buckwright.output.job_sheet.solid_view.scene import (
    FormedShape,
    SolidScene,
    lighter,
    lighter_sheet,
    packed,
)

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
#: Graphics by the processor, so that it is the same everywhere.
FLAGS = ("--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")
STATES = {"buck": "Buck", "part": "Formed part", "thickness": "Thickness", "order": "Order of contact"}
LOW, HIGH, TALL = 60.0, 35.0, 50.0


def buck(sides=96):
    data = manifold3d.Manifold.cylinder(TALL, LOW, HIGH, sides).to_mesh()
    return Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)


def sheet(count=60):
    """A height field over the buck: flat rim, cone, flat top."""
    x, y = (one.ravel() for one in np.meshgrid(*[np.linspace(-90.0, 90.0, count)] * 2))
    z = np.clip((LOW + 2.0 - np.hypot(x, y)) * TALL / (LOW - HIGH), 0.0, TALL + 0.5)
    n = np.arange(count * count).reshape(count, count)
    a, b, c, d = (part.ravel() for part in (n[:-1, :-1], n[:-1, 1:], n[1:, 1:], n[1:, :-1]))
    mesh = Mesh.from_arrays(np.column_stack([x, y, z]), np.vstack([np.c_[a, b, c], np.c_[a, c, d]]))
    order = np.where(z > 0.0, 1.0 - z / z.max(), np.nan)
    return FormedShape(mesh, 1.0 - 0.6 * (z > 0.0), order, 1.0, mesh.centroids()[:, 2] > 15.0)


@pytest.fixture(scope="module")
def scene():
    turn = np.linspace(0.0, 2.0 * np.pi, 200)
    ring = np.column_stack([56.0 * np.cos(turn), 56.0 * np.sin(turn), np.full(200, 15.0)])
    vents = np.array([(0.0, 0.0, TALL, 1.0), (20.0, 10.0, TALL, 1.0)])
    return SolidScene(buck(), vents, (ring,), sheet())


def png(width=1120, height=840):
    file = io.BytesIO()
    Image.new("RGB", (width, height), (200, 210, 220)).save(file, "png")
    return file.getvalue()


def long_report():
    """As long as that of a rich sculpt: fourteen findings of two sentences, twelve cuts, all sections."""
    words = "A web 66 mm long, up to z 57 mm, crosses the trim line at x 1, y -76, z 20 mm (own heuristic)."
    advice = "Try more draft, rounder corners, less sag, or a web-catcher block beside the corner."
    cut = {"across": True, "at_mm": 267.8, "start_mm": 0.0, "end_mm": 610.0}
    blank = {"width_mm": 308.0, "depth_mm": 267.0, "y_mm": 0.0}
    strips = [{"use": "frame, running through", "length_mm": 309.0, "count": 4}]
    wordy = load_sheets()["PETG"]
    return {
        "buck": {"size_mm": [197.2, 155.9, 83.1], "volume_mm3": 664_000.0},
        "base": {"style": "plinth", "trim_z_mm": 17.8, "flange_mm": 5.8, "riser_mm": 12.0},
        "draft": {"wanted_deg": 3.0},
        "venting": {"vents": 64, "bare": 1, "vents_to_drill": 3},
        "templates": {"trim_line_mm": 651.0},
        "rig": {
            "opening_mm": [287.0, 246.0],
            "gap_mm": [45.0, 45.0],
            "grip_mm": 11.0,
            "blank_mm": [309.0, 268.0],
            "dead_mm": 6.0,
            "reducing_set": {
                "plate_mm": [400.0, 300.0],
                "cut_out_mm": [287.0, 246.0],
                "frame_strips": strips,
                "gasket_strips": strips,
                "clamps": 10,
            },
        },
        "cutting": {
            "sheets": 1,
            "per_sheet": 7,
            "stock_mm": [1220.0, 610.0],
            "used_share": 0.78,
            "blanks": 2,
            "blank_kg": 0.065,
            "cost_per_part": 1.5,
            "pieces": [blank | {"x_mm": 310.0 * n} for n in range(3)],
            "cuts": [cut] * 12,
        },
        "heating": {"works": True, "earliest_s": 17.0, "latest_s": 26.0, "sag_mm": [25, 61], "hold_s": 5.0}
        | {"cool_s": 12.0}
        | {key: getattr(wordy, key).to_dict() for key in ("cue", "drying", "fume", "finishing")},
        "artwork": {"side": "upper", "pips": [{}]},
        "forecast": {"weakest": {}},
        "findings": [{"severity": "warn", "words": words, "advice": advice}] * 12
        + [{"severity": "note", "words": "This is only a note.", "advice": ""}] * 10,
        "files": {"buck.stl": "0123456789abcdef" * 4},
    }


def fullest_report():
    """Every section at its longest: seven gaps side by side, four kinds of bucks, openings, holes, zones."""
    gap = {"thin_mm": 0.24, "mean_mm": 0.47, "web_mm": 66.0, "blank_mm": [309.0, 268.0], "per_sheet": 7}
    gaps = [gap | {"gap_mm": 25.0 + 8 * n, "used_share": 0.78, "cost_per_part": 1.5} for n in range(7)]
    reason = (
        "Of the openings whose thin places are as thick, 45 mm leaves the least web and 7 blanks a sheet."
    )
    way = {"per_pull": 6, "blank_mm": [457.5, 575.0], "pulls": 7, "sheets": 4, "hours": 3.2}
    other = {"name": "a buck of another job", "copies": 2, "most": 1}
    fit = {"most_mm": 120.0, "height_mm": 83.1, "dead_mm": 6.0, "sag_room_mm": 60.0, "sag_mm": 62.0}
    vacuum = {"box_l": 8.0, "under_sheet_l": 2.2, "shared_kpa": 13.8, "tank_s": 42.0, "force_n": 501.0}
    holes = {"to_mask": 88, "count": 187, "mask_plate": True, "vents_reaching": 64, "vents": 64}
    title = "Home-made box, 300 x 450 mm, kitchen oven, shop cleaner"
    rim = {"trim_line_mm": 116.3, "outside_mm": 115.5, "gauge_mm": 3.0}
    edge = {"trim_line_mm": 651.0, "outside_mm": 654.0, "from": "forecast", "gauge_mm": 17.8, "rises_mm": 7.5}
    blocks = {"blocks": [{}] * 4, "web_length_without_mm": 180.0, "web_length_mm": 66.0}
    whole = {"mass_g": 413.2, "filament_m": 138.5, "time_h": [7.9, 22.5]}
    whole |= {"first_layer_mm2": 19_290.0, "overhang_mm2": 2_644.0}
    report = long_report()
    return report | {
        "gaps": {"rows": gaps, "chosen": 3, "reason": reason},
        "group": {"copies": 3, "fits": False, "most": 2, "spacing_mm": 87.5, "edge_mm": 50.0}
        | {"others": [other] * 3, "ways": [way] * 3},
        "group_forecast": {"webs_between": [{}] * 3, "between": [{"lowest_mm": 21.4}]},
        "machine": {"title": title, "fit": fit, "vacuum": vacuum, "holes": holes},
        "heater_zones": {"after_s": 41.6, "mean_c": [[133.2, 149.0, 138.0]] * 3},
        "edge": edge | {"profile_size_mm": [180.0, 140.0, 8.6], "openings": [rim] * 5, "islands": [rim]},
        "holes": [{"kind": kind} for kind in ("rivet", "slot", "fan")],
        "take_up": blocks,
        "print": {"whole": whole, "pieces": [{}] * 4, "saved_by_hollow": whole},
        "templates": {"drawings": [{}], "trim_line_mm": 651.0},
        "cutting": report["cutting"] | {"cuts": report["cutting"]["cuts"] * 3},
        "findings": report["findings"][:1] * 30 + report["findings"][-5:],
    }


PICTURES = ("buck_slant", "buck_front", "buck_top", "forecast_front", "buck_underside")


def words_of(use=""):
    thin = (
        "thin: 0.08 ±0.02 mm at the weakest spot, 5% of the part thinner than 0.24 ±0.02 mm, mean 0.47 mm; "
    )
    thin += "0.10 mm on half the net (run), 0.07 ±0.02 mm on twice the net (worked out, not run)."
    answers = [("Releases", "yes, straight off the buck."), ("Fills", "yes: 20 vents.")] * 3
    return JobWords(
        title="Heron half-mask",
        number="BW-001",
        story="A theatre needs forty heron masks; they must be light and go on in the dark.",
        sheet="high-impact polystyrene, 0.75 mm",
        material="PMMA" if use else "",
        vacuum="cleaner" if use else "",
        use=use,
        outcome="the buck is ready to print.",
        answers=[*answers[:5], ("Thickness", thin)] if use else answers,
        pulls=("3 pulls on this buck so far.", "Best so far: pull 2, 60 s of heat."),
    )


@pytest.fixture(scope="module")
def page_file(scene, tmp_path_factory):
    words = words_of()
    pictures = {f"{name}.png": png() for name in PICTURES}
    path = tmp_path_factory.mktemp("sheet") / "job_sheet.html"
    path.write_bytes(job_sheet_html(words, long_report(), pictures, scene))
    return path


@pytest.fixture(scope="module")
def browser():
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        pytest.skip(f"no browser was found: none of {', '.join(BROWSERS)} is installed")
    with api.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=found, args=list(FLAGS))
        yield opened
        opened.close()


@pytest.fixture
def opened(browser, page_file):
    """The page, and what the browser complained of or wanted to fetch."""
    page, said = browser.new_page(viewport={"width": 1100, "height": 900}), []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on(
        "request", lambda asked: None if asked.url.startswith(("file:", "data:")) else said.append(asked.url)
    )
    page.goto(page_file.as_uri())
    yield page, said
    page.close()


def canvas_of(page):
    return page.locator("#solid-view canvas")


def picture(page):
    """What the canvas shows, once it has been drawn."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return np.asarray(Image.open(io.BytesIO(canvas_of(page).screenshot())).convert("RGB"), np.int16)


def differs(one, other):
    return float((np.abs(one - other).max(axis=2) > 12).mean())


def test_every_state_shows_something_of_its_own_and_nothing_complains(opened):
    page, said = opened
    seen = []
    for state, label in STATES.items():
        page.get_by_role("radio", name=label, exact=True).check()
        seen.append(picture(page))
        ground = seen[-1][3, 3]
        assert 0.05 < float((np.abs(seen[-1] - ground).max(axis=2) > 12).mean()) < 0.95, state
        assert canvas_of(page).get_attribute("aria-label") != ""
    for n, one in enumerate(seen):
        assert all(differs(one, other) > 0.02 for other in seen[:n])
    assert page.locator(".scale li").count() == 4  # first, half of it, last, does not touch
    assert said == []


def test_it_turns_by_mouse_keys_and_buttons_and_comes_back(opened):
    page, _ = opened
    canvas = canvas_of(page)
    canvas.scroll_into_view_if_needed()
    page.get_by_role("radio", name="Thickness").check()
    begun = picture(page)
    box = canvas.bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] + 120, middle[1] - 60, steps=4)
    page.mouse.up()
    assert differs(begun, picture(page)) > 0.02
    page.get_by_role("button", name="Back to where the view started").click()
    assert differs(begun, picture(page)) < 0.002
    canvas.focus()
    for key in ("ArrowUp", "ArrowUp", "+"):
        page.keyboard.press(key)
    turned = picture(page)
    assert differs(begun, turned) > 0.02
    page.keyboard.press("Home")
    assert differs(begun, picture(page)) < 0.002
    page.get_by_role("button", name="Nearer").click()
    assert differs(begun, picture(page)) > 0.02


def test_a_finger_turns_it(browser, page_file):
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto(page_file.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.get_by_role("radio", name="Thickness").check()
    canvas_of(page).scroll_into_view_if_needed()
    begun, box = picture(page), canvas_of(page).bounding_box()
    finger = context.new_cdp_session(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    for kind, at in (("touchStart", [(x, y)]), ("touchMove", [(x + 60, y)]), ("touchMove", [(x + 90, y)])):
        points = [{"x": px, "y": py} for px, py in at]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    assert differs(begun, picture(page)) > 0.01
    context.close()


def test_a_wheel_scrolls_the_page_until_the_view_is_chosen(opened):
    page, _ = opened
    page.evaluate("window.scrollTo(0, 0)")
    canvas_of(page).scroll_into_view_if_needed()
    begun, box = picture(page), canvas_of(page).bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 60)
    before = page.evaluate("scrollY")
    page.mouse.wheel(0, 80)
    page.wait_for_function(f"scrollY > {before}")
    assert differs(begun, picture(page)) < 0.002


def test_all_that_can_be_used_is_reached_by_keys_and_has_a_name(opened):
    page, _ = opened
    names = page.evaluate(
        """() => [...document.querySelectorAll("#solid-view :is(input, button, canvas)")].map((one) =>
            one.getAttribute("aria-label") || one.closest("label")?.textContent.trim() || "")"""
    )
    assert len(names) == 4 + 1 + 7 and all(names)
    page.locator("input[name=solid-state]").first.focus()
    reached = []
    for _ in range(8):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.tagName + ' ' + document.activeElement.title"))
    assert reached[0].startswith("CANVAS") and [one.split()[0] for one in reached[1:]] == ["BUTTON"] * 7
    described = canvas_of(page).get_attribute("aria-describedby")
    assert "arrow keys" in page.locator(f"#{described}").inner_text()


def test_it_prints_on_two_pages_without_the_view(opened, tmp_path):
    page, _ = opened
    data = page.pdf(format="A4", prefer_css_page_size=True)
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    text = " ".join(one.extract_text() for one in pages)
    assert len(pages) == 2
    assert [round(float(side) / 72.0 * 25.4) for side in pages[0].mediabox[2:]] == [210, 297]
    assert "Cautions" in text and "Change" in text and "arrow keys" not in text
    # what presses is on paper as far as two pages hold it; notes are for the screen
    assert text.count("A web 66 mm long") == 8 and "And 14 more stand" in text and "only a note" not in text
    assert page.get_by_text("This is only a note.").count() == 2
    assert page.get_by_text("And 8 more stand in the report.").is_visible()
    # black and white: nothing is drawn or shown in colour
    drawn = " ".join(one.get_contents().get_data().decode("latin-1") for one in pages)
    inks = {found[:3] for found in re.findall(r"(\S+) (\S+) (\S+) (rg|RG)\b", drawn)}
    assert inks and all(len(set(ink)) == 1 for ink in inks)
    shown = [np.asarray(image.image.convert("RGB"), np.int16) for one in pages for image in one.images]
    assert len(shown) == len(PICTURES) and max(int(np.ptp(one, axis=2).max()) for one in shown) <= 2


@pytest.mark.parametrize(("paper", "size_mm"), [("A4", (210, 297)), ("Letter", (216, 279))])
def test_the_fullest_sheet_prints_on_two_pages_and_the_screen_shows_it_all(browser, tmp_path, paper, size_mm):
    """Gap table, group, cuts, openings and more findings than are printed: what is left out is counted."""
    pictures = {f"{name}.png": png() for name in (*PICTURES, "group_forecast")}
    path = tmp_path / "job_sheet.html"
    path.write_bytes(job_sheet_html(words_of("clear"), fullest_report(), pictures))
    page = browser.new_page(viewport={"width": 1100, "height": 900})
    page.goto(path.as_uri())
    data = page.pdf(format=paper, prefer_css_page_size=True)
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    text = " ".join(" ".join(one.extract_text() for one in pages).split())
    assert [round(float(side) / 72.0 * 25.4) for side in pages[0].mediabox[2:]] == list(size_mm)
    assert len(pages) == 2
    for head in ("Several bucks", "Gap against waste", "Work in this order", "Pulls", "Change next"):
        assert head in text
    assert "49 (choose)" in text and "41" in text and "gap to the frame" not in text
    assert "on the screen" in text and text.count("A web 66 mm long") < 14
    for words in ("gap to the frame, mm", "Opening 5, cut out", "Cut 24:", "73"):
        assert page.get_by_text(words).first.is_visible()
    page.close()


def test_without_graphics_the_pictures_stay(browser, page_file):
    page = browser.new_page()
    page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page.goto(page_file.as_uri())
    assert page.get_by_text("This browser has no 3-D graphics").is_visible()
    assert not canvas_of(page).is_visible()
    assert page.locator(".pictures img").count() == len(PICTURES)
    page.close()


def test_without_scripts_nothing_of_the_view_is_seen(browser, page_file):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(page_file.as_uri())
    assert not page.locator("#solid-view").is_visible()
    assert page.locator(".pictures img").first.is_visible()
    context.close()


def read_back(scene):
    text = packed(scene)
    assert "<" not in text
    return json.loads(text)


def test_places_are_true_to_a_few_micrometres(scene):
    told = read_back(scene)
    steps = np.frombuffer(base64.b64decode(told["buck"]["points"]), "<u2").reshape(-1, 3)
    points = np.array(told["box_mm"]["low"]) + steps * told["box_mm"]["step"]
    assert np.abs(points - scene.buck.vertices).max() <= 0.5 * 180.0 / 65535 + 1e-9
    faces = np.frombuffer(base64.b64decode(told["buck"]["faces"]), "<u4").reshape(-1, 3)
    assert np.array_equal(faces, scene.buck.faces)
    assert told["sheet"]["part"] == int(scene.sheet.part.sum())


def test_the_scale_is_that_of_the_colours(scene):
    thick = next(one for one in read_back(scene)["states"] if one["name"] == "thickness")
    colours = np.frombuffer(base64.b64decode(thick["colours"]), np.uint8).reshape(-1, 3)
    ends = [thick["scale"][0], thick["scale"][-1]]
    assert [words for _, words in ends] == ["0.40 mm", "1.00 mm"]
    for (colour, _), value in zip(ends, (0.4, 1.0), strict=True):
        there = colours[np.isclose(scene.sheet.thickness_mm, value)]
        assert {f"#{bytes(one.tolist()).hex()}" for one in there} == {colour}


def test_heavy_meshes_become_light_and_stay_where_they_were():
    heavy = manifold3d.Manifold.sphere(40.0, 256).to_mesh()
    mesh = Mesh.from_arrays(heavy.vert_properties[:, :3], heavy.tri_verts)
    light = lighter(mesh, most=8_000)
    assert light.face_count <= 8_000 < mesh.face_count
    assert np.linalg.norm(light.vertices, axis=1) == pytest.approx(
        np.full(len(light.vertices), 40.0), abs=0.05
    )
    shape = lighter_sheet(sheet(120), most=9_000)
    assert shape.mesh.face_count <= 9_000 == len(shape.part) or len(shape.part) == shape.mesh.face_count
    assert len(shape.thickness_mm) == len(shape.order) == shape.mesh.vertex_count
    assert shape.mesh.vertices[:, 2].max() == pytest.approx(TALL + 0.5, abs=0.6)


def test_the_library_says_its_version_and_licence(page_file):
    text = page_file.read_text(encoding="utf-8")
    assert re.search(r"three\.js \d+\.\d+\.\d+", text)
    assert "Permission is hereby granted, free of charge" in text
    assert page_file.stat().st_size < 8_000_000


def sphere(count):
    data = manifold3d.Manifold.sphere(40.0, count).to_mesh()
    return Mesh.from_arrays(data.vert_properties[:, :3], data.tri_verts)


def noisy_png():
    """A picture that no packing makes small."""
    file = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 255, (200, 300, 3), dtype=np.uint8)
    Image.fromarray(noise).save(file, "png")
    return file.getvalue()


def fitted_to(most_bytes, pictures, scene):
    def page(shown, what, words):
        return job_sheet_html(JobWords(title="Owl"), {}, shown, what, words)

    return fitted(page, pictures, scene, most_bytes=most_bytes)


def test_a_page_stays_within_its_weight_and_says_what_was_made_lighter():
    heavy = SolidScene(sphere(200), np.zeros((0, 4)), (), sheet(90))
    whole = fitted_to(8_000_000, PICTURES, heavy)
    assert whole.triangles == whole.of == heavy.triangles and b"to keep this page light" not in whole.data
    least = len(job_sheet_html(JobWords(title="Owl"), {}, {}, SolidScene(buck(12), np.zeros((0, 4)))))
    room = least + 400_000
    light = fitted_to(room, {"buck_slant.png": png()}, heavy)
    assert len(light.data) <= room and light.triangles < light.of and light.scale == 1.0
    told = f"drawn with {light.triangles:,} of {light.of:,} triangles to keep this page light"
    assert told in light.data.decode()
    noise = {"buck_slant.png": noisy_png(), "buck_front.png": noisy_png()}
    small = fitted_to(room, noise, heavy)
    assert len(small.data) <= room and small.scale == 0.5 and "at 50% of their width" in small.data.decode()
    bare = fitted_to(100_000, noise, heavy)
    assert len(bare.data) <= 100_000 and bare.scale == 0.0 and "left out" in bare.data.decode()


def test_a_body_that_is_no_solid_becomes_light_as_well():
    ball = sphere(200)
    torn = Mesh(ball.vertices, ball.faces[: len(ball.faces) // 2])
    light = lighter(torn, most=2_000)
    assert 200 < light.face_count <= 2_000
    off = np.linalg.norm(light.vertices, axis=1)
    assert off.min() > 36.0 and off.max() < 40.01
