"""What a customer meets on a screen: opening, moving, zooming, answering; phones, fallbacks, access."""

from __future__ import annotations

import json
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

Look = Callable[..., Any]
# A browser whose canvas knows no WebGL.
WITHOUT_WEBGL = "HTMLCanvasElement.prototype.getContext = () => null;"
PX_PER_MM = 96 / 25.4  # CSS pixels, by definition: https://www.w3.org/TR/css-values-4/#absolute-lengths


def test_it_opens_from_disk_and_asks_for_nothing(look: Look, file: Path) -> None:
    opened = look()
    assert opened.page.locator("html").get_attribute("data-ready") == "lit"
    opened.slide("azimuth", 90)
    asked = [url for url in opened.requests if not url.startswith(("data:", "blob:"))]
    assert asked == [file.as_uri()]
    assert opened.complaints == []


def test_its_policy_stops_what_is_not_its_own(look: Look) -> None:
    """The policy works: a script that somebody slips in does not run, and the page cannot call out."""
    opened = look()
    opened.page.evaluate(
        """() => { const own = document.createElement("script"); own.textContent = "window.harmed = 4";
        document.body.append(own); return fetch("https://example.org/").catch(() => 0); }"""
    )
    assert opened.page.evaluate("window.harmed") is None
    assert len(opened.complaints) >= 2
    assert all("Content Security Policy" in said for said in opened.complaints[:2])


def test_hostile_words_are_text(look: Look) -> None:
    page = look().page
    assert page.evaluate("window.harmed") is None
    assert "<script>window.harmed = 1</script>" in page.locator(".facts").inner_text()
    assert "2041 </script>" in page.locator(".under").inner_text()
    assert "${script} B" in page.locator(".under").inner_text()
    assert page.locator("img[src=x]").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_no_screen_is_too_small(look: Look) -> None:
    page = look().page
    for width, height in ((360, 740), (768, 1024), (1280, 900), (2200, 1300)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        stage = page.locator("#stage").bounding_box()
        assert stage["width"] >= 0.4 * min(width, height)
        assert stage["y"] + stage["height"] <= height, f"all of the picture is in sight at {width} x {height}"


def test_zoom_by_button_key_and_wheel(look: Look) -> None:
    page = look().page

    def percent() -> float:
        return float(page.locator("#percent").inner_text().split()[0])

    at_first = percent()
    page.click("#in")
    assert percent() == pytest.approx(1.4 * at_first, rel=0.01)
    page.focus("#stage")
    page.keyboard.press("+")
    assert percent() == pytest.approx(1.4 * 1.25 * at_first, rel=0.01)
    before = page.locator("#still").bounding_box()
    page.keyboard.press("ArrowRight")
    assert page.locator("#still").bounding_box()["x"] < before["x"]
    page.keyboard.press("0")
    assert percent() == at_first
    box = page.locator("#stage").bounding_box()
    page.mouse.move(box["x"] + 30, box["y"] + 40)
    page.mouse.wheel(0, -300)
    assert percent() > at_first


def test_true_size_is_true_and_can_be_calibrated(look: Look, proof: Any) -> None:
    page = look().page
    wide_mm = proof.window.cols / proof.window.px_per_mm
    page.click("#actual")
    assert page.locator("#still").bounding_box()["width"] == pytest.approx(wide_mm * PX_PER_MM, abs=0.5)
    assert page.locator("#percent").inner_text() == "100 %"
    # A screen on which a bank card is as long as 400 pixels.
    opened_card = page.evaluate(
        """() => { const slider = document.getElementById("ruler"); slider.value = 400 / 85.6;
        slider.dispatchEvent(new Event("input")); return document.getElementById("card").offsetWidth; }"""
    )
    assert opened_card == pytest.approx(400, abs=1)
    page.click("#actual")
    want = wide_mm * 400 / 85.6
    assert page.locator("#still").bounding_box()["width"] == pytest.approx(want, rel=0.005)


def test_steps_are_numbered_timed_and_lead_to_their_stitch(look: Look, proof: Any) -> None:
    opened = look()
    page = opened.page
    steps = [step for step in proof.account.steps if step.action == "sew"]
    buttons = page.locator("#steps button")
    assert buttons.count() == len(steps) == 3
    assert page.locator("#steps i").all_inner_texts() == ["1", "2", "3"]
    for number, step in enumerate(steps):
        minutes, seconds = divmod(round(step.seconds), 60)
        assert page.locator("#steps time").nth(number).inner_text() == f"{minutes}:{seconds:02d}"
        buttons.nth(number).click()
        assert int(page.input_value("#sewn")) == step.stitches[1] + 1
    page.focus("#sewn")
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    assert page.locator("#count").inner_text().startswith("1 of ")
    assert page.locator("#sewn").get_attribute("aria-valuetext").startswith("1 of ")


def test_a_close_up_shows_when_one_comes_near(look: Look) -> None:
    page = look().page
    details = page.locator("canvas.detail")
    assert details.count() >= 1
    page.click("#actual")
    assert not details.first.is_visible()
    page.locator("#near button").first.click()
    details.first.wait_for(state="visible")
    page.locator("canvas.detail.lit").first.wait_for()
    assert page.evaluate("document.querySelector('canvas.detail').width") == 384


def test_the_light_follows_mouse_finger_and_keys(look: Look) -> None:
    page = look(has_touch=True).page
    page.locator("input[name=drag][value=light]").check(force=True)
    box = page.locator("#stage").bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] + 0.4 * box["width"], middle[1])
    page.mouse.up()
    assert float(page.input_value("#azimuth")) % 360 == pytest.approx(0, abs=5)
    low = float(page.input_value("#elevation"))
    assert low < 40
    page.touchscreen.tap(middle[0], middle[1] + 0.1 * box["height"])
    assert float(page.input_value("#azimuth")) == pytest.approx(90, abs=5)
    assert float(page.input_value("#elevation")) > low
    page.focus("#stage")
    page.keyboard.press("ArrowRight")
    assert float(page.input_value("#azimuth")) == pytest.approx(100, abs=5)


def test_an_answer_says_what_was_decided_and_of_what(look: Look, proof: Any) -> None:
    page = look().page
    page.click("#form button[type=submit]")
    assert page.locator("#missing").inner_text() == "Please say first whether you approve."
    page.check("input[value=approved]")
    page.click("#form button[type=submit]")
    assert "tick the box" in page.locator("#missing").inner_text()
    page.check("input[value=changes]")
    page.fill("#name", "Ida Otter <ida>")
    page.click("#add")
    note = page.locator("#notes textarea")
    note.fill("Oar longer, please")
    page.locator("#pins button").focus()
    page.keyboard.press("ArrowLeft")
    page.click("#form button[type=submit]")
    assert page.locator("#missing").inner_text() == ""
    mail = page.input_value("#mail")
    prints = proof.account.fingerprints
    assert "Please change it" in mail
    assert "Oar longer, please" in mail
    assert "Ida Otter <ida>" in mail
    assert prints.file in mail
    assert prints.stitches in mail
    link = page.locator("#send").get_attribute("href")
    assert link.startswith("mailto:?subject=")
    assert "\n" not in link
    with page.expect_download() as saving:
        page.click("#save")
    answer = json.loads(Path(saving.value.path()).read_text("utf-8"))
    assert answer["decision"] == "changes"
    assert answer["stitch_fingerprint"] == prints.stitches
    # Set in the middle and moved 1 mm to the left; places are seen from the middle of the design.
    assert answer["notes"] == [{"number": 1, "x_mm": -1.0, "y_mm": 0.0, "text": "Oar longer, please"}]
    assert answer["order"] == proof.account.order.order


def test_a_tap_sets_a_note_where_it_lands(look: Look, proof: Any) -> None:
    page = look(width=360, height=740, has_touch=True).page
    page.locator("input[name=drag][value=note]").check(force=True)
    box = page.locator("#stage").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 4, box["y"] + box["height"] / 2)
    assert page.locator("#pins button").count() == 1
    wide_mm = proof.window.cols / proof.window.px_per_mm
    assert f"{wide_mm / 4:.0f} mm from the left" in page.locator("#notes").inner_text()
    page.locator("#notes button").click()
    assert page.locator("#pins button").count() == 0


def test_another_cloth_can_be_chosen(look: Look) -> None:
    opened = look()
    page = opened.page
    before = page.query_selector("#sheet canvas")
    page.locator("input[name=variant]").nth(1).check(force=True)
    page.wait_for_selector('html[data-variant="1"]', state="attached")
    # What is no longer shown lets go of its context, which says nothing of the light on what is.
    page.wait_for_function("before => !before.isConnected", arg=before)
    assert before.evaluate("before => before.getContext('webgl2').isContextLost()")
    before.evaluate("before => before.dispatchEvent(new Event('webglcontextlost'))")
    assert "flat" not in page.locator("html").get_attribute("class")
    assert page.locator("#still").get_attribute("src").startswith("data:image/webp")
    page.check("input[value=approved]")
    page.check("#checked")
    page.fill("#name", "Ida")
    page.click("#form button[type=submit]")
    chosen = page.locator(".variants label").nth(1).inner_text()
    assert f"Choice: {chosen}" in page.input_value("#mail")
    assert opened.complaints == []


def test_without_webgl_the_picture_stays(look: Look) -> None:
    opened = look(before=WITHOUT_WEBGL)
    page = opened.page
    assert page.locator("html").get_attribute("data-ready") == "flat"
    assert page.locator("#still").is_visible()
    assert page.locator("#without").is_visible()
    assert not page.locator("#azimuth").is_visible()
    assert page.locator("#form").is_visible()
    page.click("#in")
    assert opened.complaints == []


def test_without_scripts_the_picture_and_all_facts_show(look: Look) -> None:
    page = look(java_script_enabled=False).page
    still = page.locator("#still")
    assert still.is_visible()
    assert still.bounding_box()["width"] > 400
    assert "Open the file in a web browser" in page.locator(".hint").first.inner_text()
    assert page.locator(".facts").is_visible()
    assert page.locator("#steps li").count() == 3
    for control in ("#azimuth", "#form", ".zoom", "#sewn"):
        assert not page.locator(control).is_visible()


@pytest.mark.parametrize(("width", "dark"), [(360, True), (1280, False)])
def test_axe_finds_nothing_grave(look: Look, width: int, dark: bool) -> None:
    page = look(width=width, dark=dark).page
    page.click("#add")
    page.check("input[value=changes]")
    page.fill("#name", "Ida")
    page.fill("#comment", "Larger")
    page.click("#form button[type=submit]")
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8"))
    found = page.evaluate("axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})")
    assert len(found["passes"]) > 15, "it has looked"
    faults = [(one["id"], [node["html"][:120] for node in one["nodes"]]) for one in found["violations"]]
    assert faults == []


def test_axe_sees_a_fault(look: Look) -> None:
    """The check can fail: a picture without words for it is found."""
    page = look().page
    page.evaluate("document.getElementById('still').removeAttribute('alt')")
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8"))
    found = page.evaluate("axe.run('#sheet', {runOnly: ['wcag2a']})")
    assert [one["id"] for one in found["violations"]] == ["image-alt"]


def test_dark_is_dark_and_light_is_light(look: Look) -> None:
    page = look().page

    def ground(scheme: str) -> list[int]:
        page.emulate_media(color_scheme=scheme)
        colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
        return [int(part) for part in colour[4:-1].split(",")]

    assert min(ground("light")) > 220
    assert max(ground("dark")) < 40
