"""What tests of the outbox share: a device, its network, and waiting for what it does in the background."""

from playwright.sync_api import expect

PATIENCE_MS = 60_000
LONG_MS = 240_000


def ready(page):
    """Wait until the device has its worker and a copy of every page the service named."""
    page.evaluate(
        """async (patience) => {
            const end = Date.now() + patience;
            await navigator.serviceWorker.ready;
            const memory = await caches.open("whose");
            while (!await memory.match("/listed-at")) {
                if (Date.now() > end) throw new Error("The copies are not made in time.");
                await new Promise((again) => setTimeout(again, 50));
            }
        }""",
        LONG_MS,
    )


def entries_on(page):
    return page.evaluate("Entries.all()")


def settled(page, state, count):
    """Wait until so many entries are in a state; the last of them may be about to be written."""
    page.evaluate(
        """async ([state, count, patience]) => {
            const end = Date.now() + patience;
            const states = async () => (await Entries.all()).map((entry) => entry.state);
            while ((await states()).filter((one) => one === state).length !== count) {
                if (Date.now() > end) throw new Error(`Not so in time: ${await states()}`);
                await new Promise((again) => setTimeout(again, 100));
            }
        }""",
        [state, count, LONG_MS],
    )


def see(locator):
    expect(locator).to_be_visible(timeout=PATIENCE_MS)
