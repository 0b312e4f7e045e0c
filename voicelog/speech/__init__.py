"""Audio to transcript: the speech room.

    audio.load -> signal.check -> recognise.WhisperRecogniser.transcribe -> Transcript

`Recogniser` (in `recognise`) is the seam to everything else; `fake.FakeRecogniser` stands
on the other side of it in quick tests. `models` finds and checks weights, `vocabulary`
composes the prompt of a step, `recheck` takes the second look, `endpoint` cuts a live
stream into utterances. Settings are in `models_config/speech.toml`.
"""
