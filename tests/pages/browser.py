"""What tests in a real browser share: how it starts, how somebody signs in, and what is checked on every page."""

from pathlib import Path

from playwright.sync_api import expect

AXE = Path(__file__).parents[1] / "vendor/axe-core-4.14.1/axe.min.js"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]

# A page that follows a click is waited for, and a busy machine may take its time over it.
expect.set_options(timeout=20_000)


def sign_in(page, person):
    page.goto("/sign-in/")
    page.get_by_label("E-mail address").fill(person.email)
    page.get_by_label("Password").fill("open the trailer")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda address: "/sign-in/" not in address)


def too_small(page, least_px):
    return page.evaluate(
        """least => [...document.querySelectorAll(
            "main button, main select, main textarea, main a.button, main summary, main .choices label, " +
            "main input:not([type=radio], [type=checkbox], [type=hidden])"
        )].filter(one => one.checkVisibility() && one.getBoundingClientRect().height < least)
          .map(one => one.outerHTML.slice(0, 120))""",
        least_px,
    )


def check(page, least_px):
    too_wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")

    assert found_by_axe(page) == [], page.url
    assert too_wide <= 0, page.url
    assert too_small(page, least_px) == [], page.url


def found_by_axe(page):
    page.evaluate(AXE.read_text())
    report = page.evaluate("async () => await axe.run()")
    assert len(report["passes"]) > 10
    return [(rule["id"], [node["html"] for node in rule["nodes"]]) for rule in report["violations"]]
