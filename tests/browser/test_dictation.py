"""Dictation in a real browser: by voice alone, over crashes and cuts, without a microphone."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from tests.browser.conftest import Launch, begin_dictation, sign_in
from tests.browser.serving import Line, Server
from tests.browser.speech import missing_s, read, spoken
from tests.browser.test_sound import assert_whole, on_disk, the_note
from tests.browser.witness import Witness

CUT_S = float(os.environ.get("VOICELOG_CUT_S", "5"))
"""How long the network is away; the long run of the project makes it a minute."""

NINETY_SEVEN, NINETY_EIGHT = (
    re.compile("97|ninety.seven", re.I),
    re.compile("98|ninety.eight", re.I),
)
"""Figures or words: that is the model's choice."""

WHOLE_CARD = (
    0.8, "Wear pin, eight millimetres.", 1.2, "Bolt one, ninety eight newton metres.", 1.2,
    "Bolt two, ninety seven newton metres.", 1.2, "Cotter pin fitted.", 1.2,
    "Step twenty.", 1.2, "Safety wire fitted.", 1.5,
    "Finish dictation.", 30.0,
)  # fmt: skip


@pytest.mark.model
def test_a_whole_card_by_voice_alone(
    server: Server, home: Path, tmp_path: Path, browsing: Launch
) -> None:
    sound = spoken(tmp_path / "card.wav", WHOLE_CARD)
    with browsing(sound) as page:
        witness = Witness(page)
        sign_in(page, server.address, "tom")
        begin_dictation(page, server.address)
        page.wait_for_url("**/dictated/*", timeout=180_000)
        assert "is with the reviewer" in page.inner_text("main")
    note = the_note(home)
    values = {(v.step, v.field, v.position): str(v.value) for v in note.draft.values}
    expected = {
        ("10", "wear", None): "8",
        ("10", "bolt", "1"): "98",
        ("10", "bolt", "2"): "97",
        ("10", "pin", None): "pass",
        ("20", "wire", None): "pass",
    }
    assert expected.items() <= values.items(), [t.transcript.text for t in note.draft.takes]
    recorded = on_disk(home, note)
    assert_whole(recorded, witness)
    assert missing_s(recorded / 32768, read(sound)) == []


@pytest.mark.model
def test_a_killed_server_and_a_cut_network_lose_no_sample(
    server: Server, home: Path, tmp_path: Path, browsing: Launch
) -> None:
    """Killed in the middle of an utterance, started again, then the network goes for a while."""
    sound = spoken(
        tmp_path / "long.wav",
        (1.0, "Bolt one, ninety eight newton metres.", 3.0,
         "Remarks, a light scratch on the outer flange of the hub, no depth to it.", 4.0 + CUT_S,
         "Bolt two, ninety seven newton metres.", 60.0),
    )  # fmt: skip
    line = Line(server.port)
    with browsing(sound) as page:
        witness = Witness(page)
        sign_in(page, line.address, "tom")
        id = begin_dictation(page, line.address)
        page.wait_for_timeout(7_500)  # inside the remark
        server.kill()
        page.locator("#band[data-state=offline]").wait_for()
        page.wait_for_timeout(1_500)
        server.start()
        page.locator("#heard", has_text="scratch").wait_for(timeout=90_000)
        line.cut()
        page.locator("#band[data-state=offline]").wait_for()
        page.wait_for_timeout(CUT_S * 1000)
        assert "sound kept on this device" in page.inner_text("#hint")
        line.mend()
        page.locator("#heard", has_text=NINETY_SEVEN).wait_for(timeout=120_000)
        said_until = len(witness.frames())
        page.get_by_role("button", name="Steps").click()
        page.get_by_role("button", name="Finish, send to review").click()
        page.wait_for_url("**/dictated/*", timeout=120_000)
    line.close()
    assert not (home / "dictations" / id).exists()
    recorded = on_disk(home, the_note(home))
    assert len(recorded) >= said_until
    assert_whole(recorded, witness)
    assert missing_s(recorded / 32768, read(sound)) == []


@pytest.mark.model
def test_a_closed_tab_sends_what_it_kept_when_it_comes_back(
    server: Server, home: Path, tmp_path: Path, browsing: Launch
) -> None:
    sound = spoken(tmp_path / "tab.wav", (5.0, "Bolt one, ninety eight newton metres.", 30.0))
    line = Line(server.port)
    with browsing(sound) as page:
        sign_in(page, line.address, "tom")
        id = begin_dictation(page, line.address)
        page.locator("#band[data-state=listening]").wait_for()
        line.cut()
        page.wait_for_timeout(9_000)
        page.close(run_before_unload=False)
        line.mend()
        again = page.context.new_page()
        again.goto(f"{line.address}/dictate/{id}")
        again.locator("#heard", has_text=NINETY_EIGHT).wait_for(timeout=90_000)
    line.close()


def test_the_read_back_closes_the_microphone_and_takes_an_answer(
    server: Server, tmp_path: Path, browsing: Launch
) -> None:
    """Every spoken control is a touch target of at least 64 px as well."""
    with browsing(None) as page:
        page.set_viewport_size({"width": 390, "height": 844})
        sign_in(page, server.address, "tom")
        begin_dictation(page, server.address)
        for button in page.locator(".thumbs button").all():
            box = button.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 64
        page.get_by_role("button", name="Stand by").click()
        page.locator("#band[data-state=paused]").wait_for()
        page.get_by_role("button", name="Resume").click()
        page.get_by_role("button", name="Next step").click()
        page.locator("#step", has_text="Lock the hub").wait_for(timeout=20_000)


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"grant": False}, "The microphone was refused."),
        ({"device": False}, "No microphone was found."),
    ],
)
def test_no_microphone_is_said_and_leads_on(
    options: dict[str, bool], sentence: str, server: Server, browsing: Launch
) -> None:
    with browsing(None, **options) as page:
        sign_in(page, server.address, "tom")
        begin_dictation(page, server.address)
        page.get_by_text(sentence).wait_for()
        page.get_by_role("link", name="Hand in a recording instead").click()
        page.get_by_label("Recording").wait_for()


@pytest.mark.model
def test_a_recording_handed_in_leads_to_its_draft_by_itself(
    server: Server, home: Path, tmp_path: Path, browsing: Launch
) -> None:
    sound = spoken(tmp_path / "note.wav", (0.5, "Cotter pin fitted.", 0.5))
    with browsing(None, device=False) as page:
        sign_in(page, server.address, "tom")
        page.goto(f"{server.address}/dictate/upload?work_order=W-7")
        page.get_by_label("Recording").set_input_files(sound)
        page.get_by_role("button", name="Hand it in").click()
        page.wait_for_url("**/dictate/upload/J-000001")
        server.kill()
        page.wait_for_timeout(2_500)
        server.start()
        page.wait_for_url("**/dictated/N-000001", timeout=180_000)
    assert [value.value for value in the_note(home).draft.values] == ["pass"]


def test_an_unplugged_microphone_is_said(server: Server, browsing: Launch) -> None:
    with browsing(None) as page:
        page.add_init_script(
            """const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
            navigator.mediaDevices.getUserMedia = async (what) => (window.stream = await ask(what));
            """
        )
        sign_in(page, server.address, "tom")
        begin_dictation(page, server.address)
        page.locator("#band[data-state=listening], #band[data-state=hearing]").wait_for()
        page.evaluate("() => window.stream.getAudioTracks()[0].dispatchEvent(new Event('ended'))")
        page.get_by_text("The microphone is gone.").wait_for()
        page.get_by_role("button", name="Try again").click()
        page.locator("#band[data-state=listening], #band[data-state=hearing]").wait_for()
