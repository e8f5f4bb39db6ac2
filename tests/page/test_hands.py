"""Mouse, touch and keyboard on the picture, and the numbers that pointing at a block shows."""

from __future__ import annotations

from page.browser import SIZE, opened, pixels, settle


def middle(page):
    box = page.locator("#canvas").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def camera(page):
    return page.evaluate(
        "() => { const c = framevis.page.picture.camera;"
        " return {yaw: c.yaw, pitch: c.pitch, zoom: c.zoom, focus: c.focus}; }"
    )


def drag(page, button="left"):
    page.locator("#canvas").scroll_into_view_if_needed()
    x, y = middle(page)
    page.mouse.move(x, y)
    page.mouse.down(button=button)
    page.mouse.move(x + 60, y + 20, steps=3)
    page.mouse.up(button=button)
    settle(page)


def test_dragging_turns(watched):
    before, picture = camera(watched.page), pixels(watched.page)
    drag(watched.page)
    after = camera(watched.page)
    assert after["yaw"] != before["yaw"]
    assert after["pitch"] != before["pitch"]
    assert after["focus"] == before["focus"]
    assert pixels(watched.page) != picture


def test_dragging_with_shift_or_the_other_button_moves(watched):
    page, before = watched.page, camera(watched.page)
    drag(page, "right")
    moved = camera(page)
    assert moved["yaw"] == before["yaw"]
    assert moved["focus"] != before["focus"]
    page.keyboard.down("Shift")
    drag(page)
    page.keyboard.up("Shift")
    assert camera(page)["yaw"] == before["yaw"]
    assert camera(page)["focus"] != moved["focus"]


def test_the_wheel_scrolls_the_page_until_the_picture_is_clicked(watched):
    page = watched.page
    page.locator("#canvas").scroll_into_view_if_needed()
    page.mouse.move(*middle(page))
    page.mouse.wheel(0, -100)
    page.wait_for_timeout(100)
    assert camera(page)["zoom"] == 1
    page.locator("#canvas").scroll_into_view_if_needed()
    page.mouse.move(*middle(page))
    page.mouse.down()
    page.mouse.up()
    page.mouse.wheel(0, -100)
    page.wait_for_timeout(100)
    assert camera(page)["zoom"] > 1


def test_keys_turn_move_zoom_and_come_back(watched):
    page, before = watched.page, camera(watched.page)
    page.locator("#canvas").focus()
    page.keyboard.press("ArrowLeft")
    assert camera(page)["yaw"] != before["yaw"]
    page.keyboard.press("Shift+ArrowUp")
    assert camera(page)["focus"] != before["focus"]
    page.keyboard.press("+")
    assert camera(page)["zoom"] > 1
    page.keyboard.press("0")
    assert camera(page) == before


def test_touch_one_finger_turns_two_pinch(chromium, demo_page):
    with opened(chromium, demo_page, viewport=SIZE, has_touch=True) as one:
        page = one.page
        page.locator("#canvas").scroll_into_view_if_needed()
        x, y = middle(page)
        hand = page.context.new_cdp_session(page)

        def touch(kind, *places):
            points = [{"x": px, "y": py, "id": i} for i, (px, py) in enumerate(places)]
            hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        before = camera(page)
        touch("touchStart", (x, y))
        touch("touchMove", (x + 40, y))
        touch("touchEnd")
        turned = camera(page)
        assert turned["yaw"] != before["yaw"]
        touch("touchStart", (x - 30, y), (x + 30, y))
        touch("touchMove", (x - 80, y), (x + 80, y))
        touch("touchEnd")
        pinched = camera(page)
        assert pinched["zoom"] > 1.5
        assert pinched["yaw"] == turned["yaw"]
        assert one.complaints == []


def test_pointing_at_a_block_shows_its_numbers(watched):
    page = watched.page
    page.locator("#canvas").scroll_into_view_if_needed()
    spot = page.evaluate("framevis.spots().find(s => s.name === 'left/near_outer').pixel")
    box = page.locator("#canvas").bounding_box()
    page.mouse.move(box["x"] + spot[0], box["y"] + spot[1])
    shown = page.locator("#tip").inner_text()
    assert "left / near_outer: binding over the travel" in shown
    assert "at 1420 mm: drag ×3.5" in shown
    page.mouse.move(box["x"] + 5, box["y"] + 40)
    assert page.locator("#tip").is_hidden()


def test_tapping_a_block_shows_its_numbers(chromium, demo_page):
    with opened(chromium, demo_page, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True) as one:
        page = one.page
        page.locator("#canvas").scroll_into_view_if_needed()
        spot = page.evaluate("framevis.spots().find(s => s.name === 'head/left_front').pixel")
        box = page.locator("#canvas").bounding_box()
        page.touchscreen.tap(box["x"] + spot[0], box["y"] + spot[1])
        settle(page)
        assert "drag ×1.0" in page.locator("#tip").inner_text()
