"""Two diagrams in one picture: stated confidence against accuracy, and risk against flag rate."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelog.bench.accuracy import risk_curve
from voicelog.bench.score import calibration_error, reliability, wilson
from voicelog.errors import ConfigError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from voicelog.bench.accuracy import Result


def draw(results: Sequence[Result], path: Path) -> None:
    """The picture over `results` of one system, as PNG. Raises ConfigError without matplotlib."""
    try:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
    except ImportError as error:
        raise ConfigError(
            "matplotlib is not installed, which draws the diagram; "
            "install what measuring needs with: pip install 'voicelog[dev]'"
        ) from error

    outcomes = [outcome for result in results for outcome in result.outcomes]
    groups = reliability(outcomes)
    figure = Figure(figsize=(9, 4), layout="constrained")
    FigureCanvasAgg(figure)
    left, right = figure.subplots(1, 2)

    left.plot([0, 1], [0, 1], color="0.6", linewidth=1)
    shares = [group.right / group.count for group in groups]
    spans = [wilson(group.right, group.count) for group in groups]
    left.errorbar(
        [group.confidence for group in groups],
        shares,
        yerr=[
            [share - low for share, (low, _) in zip(shares, spans, strict=True)],
            [high - share for share, (_, high) in zip(shares, spans, strict=True)],
        ],
        fmt="o",
        capsize=3,
    )
    for group, share in zip(groups, shares, strict=True):
        side = (-4, "right") if group.confidence > 0.9 else (4, "left")  # inside the frame
        left.annotate(
            str(group.count),
            (group.confidence, share),
            (side[0], 4),
            textcoords="offset points",
            ha=side[1],
        )
    left.set(xlim=(0, 1.02), ylim=(0, 1.05), xlabel="confidence", ylabel="share right")
    left.set_title(f"reliability (calibration error {calibration_error(outcomes):.3f})")

    points = risk_curve(results)
    right.step(
        [100 * point.right_flagged for point in points],
        [point.silent for point in points],
        where="post",
        marker="o",
        markersize=3,
    )
    right.set(xlabel="right values flagged (%)", ylabel="silent errors", xlim=(-2, 102))
    right.set_ylim(-0.2, 1.1 * max(1, *(point.silent for point in points)))
    right.yaxis.get_major_locator().set_params(integer=True)
    right.set_title("risk against flag rate")
    figure.savefig(path, dpi=110)
