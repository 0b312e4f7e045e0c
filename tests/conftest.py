"""What all tests share: no property is timed, since speed is measured by `voicelog bench`."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
