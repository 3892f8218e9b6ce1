"""Back keeps everything: also what was typed and not yet sent."""

from playwright.sync_api import expect


def test_what_was_typed_but_not_sent_is_there_again(desk):
    page = desk().sign_in("pat")
    page.get_by_role("button", name="Book an event").tap()
    page.get_by_label("Name", exact=True).fill("Nora Quill")
    page.get_by_label("Organisation").fill("Quill and Sons")
    page.go_back()
    page.go_forward()
    expect(page.get_by_label("Name", exact=True)).to_have_value("Nora Quill")
    expect(page.get_by_label("Organisation")).to_have_value("Quill and Sons")
    page.reload()
    expect(page.get_by_label("Name", exact=True)).to_have_value("Nora Quill")
    # Sent and refused, the page shows what was sent; put right, it goes on and Back shows it.
    page.get_by_role("button", name="Continue").last.tap()
    expect(page.locator(".errors")).to_be_focused()
    expect(page.get_by_label("Name", exact=True)).to_have_value("Nora Quill")
    page.locator("#id_phone").fill("01632 960 778")
    page.get_by_role("button", name="Continue").last.tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Where is it?")
    page.locator("#id_name").fill("The old net loft")
    page.locator(".bar a").first.tap()
    expect(page.locator("#id_phone")).to_have_value("01632 960 778")
    page.go_back()
    expect(page.locator("#id_name")).to_have_value("The old net loft")


def test_signing_out_leaves_nothing_typed_behind(desk):
    page = desk().sign_in("pat")
    page.get_by_role("button", name="Book an event").tap()
    page.get_by_label("Name", exact=True).fill("Nora Quill")
    page.wait_for_function("() => Object.keys(sessionStorage).some(name => name.startsWith('typed:'))")
    page.goto("/more/")
    page.get_by_role("button", name="Sign out").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    assert page.evaluate("() => Object.keys(sessionStorage).filter(name => name.startsWith('typed:'))") == []
