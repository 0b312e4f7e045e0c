"""The same chain on a Dask cluster, which is a dispatcher here and nothing more.

    ClusterHands(store, url, model, profile)     works on the job table through a cluster
    Live(url, model, profile).hear(...)          one live utterance, when this machine is busy

The job table stays the single truth: whatever happens to workers or scheduler, what is not
done there is sent again. Tasks save nothing, audio travels as bytes and results as JSON, and
a worker whose version, settings or model differ says so instead of answering (`remote`).
Dask unpickles what its peers send, so between machines the connection has to be TLS with
certificates of one's own (`connection`).
"""

from __future__ import annotations

from voicelog.cluster.hands import ClusterHands
from voicelog.cluster.live import Live

__all__ = ["ClusterHands", "Live"]
