"""What a lesson's page costs to load: on a school's network, and on an old machine."""

from __future__ import annotations

from collections import Counter

MOST_BYTES = 2_500_000


def test_a_lesson_is_light_enough_for_a_schools_network(browser, plain_server):
    """Everything that comes over the network until the lesson is at work: files as they are sent, and messages."""
    plain_server.forget()
    context = browser.new_context()
    page, came = context.new_page(), Counter()
    network = context.new_cdp_session(page)
    network.send("Network.enable")
    network.on("Network.loadingFinished", lambda one: came.update(files=int(one["encodedDataLength"])))
    network.on("Network.webSocketFrameReceived", lambda one: came.update(messages=len(one["response"]["payloadData"])))
    plain_server.open(page)
    page.wait_for_timeout(2000)
    context.close()
    print(f"files {came['files']:,}, messages {came['messages']:,}")
    assert came["files"] > 500_000 and came["messages"] > 100_000  # it was measured
    assert came.total() < MOST_BYTES
