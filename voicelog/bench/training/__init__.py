"""Training speech of the trade and a low-rank adapter for `base`; README.md tells the outcome.

    grammar -> spoken -> train (PyTorch) -> adapter -> merged into the weights

Nothing of it is needed to use voicelog.
"""
