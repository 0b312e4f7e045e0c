"""Measuring: how often values are right, how often silently wrong, and how fast.

score      expected beside proposed: right, silent, missed, with confidence intervals
voices     the sentences of sample_audio/ through installed synthetic voices
noise      deterministic workshop noise, reverb, band limit, clipping, packet loss
accuracy   the chain on recordings, by condition and voice; notes as text
quantities numbers found in notes as text, and how fast, beside quantulum3
speed      hours of audio per hour beside the bare library
tables     rows as tables
"""
