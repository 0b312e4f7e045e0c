"""Training speech of the trade and a low-rank adapter for `base`; README.md tells the outcome.

    grammar -> spoken -> train (PyTorch, a CUDA machine) -> adapter -> merge (ct2) -> model.bin

Nothing of it is needed to use voicelog.
"""
